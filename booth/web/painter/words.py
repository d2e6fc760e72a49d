"""The painter's page in the painter's language: every text out of a catalogue, and numbers as that language writes them."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from booth.units import KINDS, affine

FOLDER = Path(__file__).with_name("words")
NO_BREAK = "\u00a0"  # a number stays beside its unit
DECIMAL_COMMA = ("es", "fr")
US_DIGITS = {"ft/min": 0, "ft^3/min": 0, "inH2O": 3}
US_SYMBOLS = {"temperature_difference": "°F"}  # the label says that it is a margin


class Words:
    """`words("van.may_in", time="3:20")`. A key that isn't there is a KeyError: a test holds all catalogues against the page."""

    def __init__(self, language: str, texts: Mapping[str, str], units: str = "SI") -> None:
        self.language, self.units, self._texts = language, units, texts

    def __call__(self, key: str, **values: object) -> str:
        return self._texts[key].format(**values)

    def either(self, key: str, otherwise: str, **values: object) -> str:
        """The text of a key that a configuration may not have foreseen."""
        return self(key if key in self._texts else otherwise, **values)

    def number(self, value: float, quantity: str) -> tuple[str, str]:
        """A value in the unit used inside as (number, unit) of this screen's units, written as the language does."""
        kind = KINDS[quantity]
        digits, symbol = kind.digits, kind.symbol
        if self.units == "US" and kind.us != kind.inside:
            factor, offset = affine(kind.us, quantity)
            value, digits = (value - offset) / factor, US_DIGITS.get(kind.us, digits)
            symbol = US_SYMBOLS.get(quantity, kind.us_symbol)
        text = f"{value:.{digits}f}".replace("-", "−")
        return text.replace(".", ",") if self.language in DECIMAL_COMMA else text, symbol

    def value(self, value: float, quantity: str) -> str:
        return NO_BREAK.join(self.number(value, quantity)).strip(NO_BREAK)


@cache
def words(language: str, units: str = "SI") -> Words:
    """The catalogue of a language (en, es, fr)."""
    return Words(language, texts_of(language), units)


@cache
def texts_of(language: str) -> dict[str, str]:
    """Every text by its key, `section.name`."""
    sections = tomllib.loads((FOLDER / f"{language}.toml").read_text(encoding="utf-8"))
    return {f"{section}.{name}": text for section, texts in sections.items() for name, text in texts.items()}


def languages() -> list[str]:
    return sorted(path.stem for path in FOLDER.glob("*.toml"))


def countdown(us: int) -> str:
    """A length of time as people read a clock that runs down: `3:20`, `1:02:05`. Up to the full second that has begun."""
    total = -(-abs(us) // 1_000_000)
    hours, rest = divmod(total, 3600)
    minutes, seconds = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{seconds:02d}" if hours else f"{minutes}:{seconds:02d}"
