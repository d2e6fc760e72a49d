"""The limits of the shipped coatings and processes, read from their TOML files, in seconds, degC, percent, m/s, Pa."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0}


def sheets(files: Mapping[str, str], folder: str) -> dict[str, dict[str, Any]]:
    """The files of a folder of the configuration ("coatings"), by name, as their tables."""
    inside = {
        name.removeprefix(f"{folder}/").removesuffix(".toml"): text
        for name, text in files.items()
        if name.startswith(f"{folder}/")
    }
    return {name: tomllib.loads(text) for name, text in inside.items()}


def number(text: str) -> float:
    """The number of a quantity that is written in the unit used here: "22 degC", "30 percent", "3 K"."""
    return float(text.split()[0])


def seconds(text: str) -> float:
    value, unit = text.split()
    return float(value) * SECONDS[unit]


def stated(value: object) -> Any:
    """What a sheet says; None where it says nothing, or says that it states nothing."""
    return None if value in (None, "not_stated") else value
