"""One decorator: write a formula once, get numbers for numbers and arrays for arrays."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from inspect import signature
from typing import Any, ParamSpec

import numpy as np
import numpy.typing as npt

Values = npt.ArrayLike
"""A number, or anything that numpy makes an array of."""

CHUNK = 16_384
"""128 kB of doubles: a formula's temporaries then stay in the processor's cache, which makes a long column two to
three times as fast as one pass over the whole of it."""

P = ParamSpec("P")


def plain(result: Any) -> Any:
    """A `float` for a single number, the array otherwise."""
    return float(result) if np.ndim(result) == 0 else result


def elementwise(formula: Callable[P, Any]) -> Callable[P, Any]:
    """Broadcast the arguments and run `formula` over them in chunks; numbers only give a `float`.

    A value outside a formula's range gives NaN, never a warning and never an exception: one bad reading among a
    million must not stop the others.
    """
    parameters = signature(formula)

    @wraps(formula)
    def over(*arguments: P.args, **named: P.kwargs) -> Any:
        if named:
            arguments = parameters.bind(*arguments, **named).args
        columns = [np.asarray(argument, dtype=float) for argument in arguments]
        shape = np.broadcast_shapes(*(column.shape for column in columns))
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            if shape == ():
                return float(formula(*columns))
            return _in_chunks(formula, columns, shape)

    return over


def _in_chunks(formula: Callable[..., Any], columns: list[np.ndarray], shape: tuple[int, ...]) -> np.ndarray:
    # Numbers stay numbers: stretching them into columns would only move memory about.
    flat = [c if c.ndim == 0 else np.broadcast_to(c, shape).reshape(-1) for c in columns]
    result = np.empty(shape)
    by_element = result.reshape(-1)
    for start in range(0, by_element.size, CHUNK):
        part = slice(start, start + CHUNK)
        by_element[part] = formula(*(c if c.ndim == 0 else c[part] for c in flat))
    return result
