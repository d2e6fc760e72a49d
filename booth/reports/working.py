"""A sum with its working: what `booth exposure` and `booth airflow` print, and what stops them."""

from __future__ import annotations

from dataclasses import dataclass


class SumError(ValueError):
    """Figures that can't be worked with; the text says what to write."""


@dataclass(frozen=True)
class Working:
    """A result with how it came about. `result`: one number, or one for each position; in `unit`."""

    what: str
    rule: str
    lines: tuple[str, ...]
    result: float | tuple[float, ...]
    unit: str
    sentence: str
    caution: str
