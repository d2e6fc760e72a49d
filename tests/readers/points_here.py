"""A small invented shop for these tests."""

from __future__ import annotations

from typing import Any

from booth.readers.points import PointMap, PointSpec
from booth.times import parse_time

NOON = parse_time("2026-07-13T17:00:00Z")
MODES = ("idle", "spray", "flash", "purge", "bake", "cool", "fault")

POINTS = {
    spec.point: spec
    for spec in (
        PointSpec("north/air-temperature", "temperature", "degC", low=-20, high=120, mapping=3),
        PointSpec("north/humidity", "humidity", "percent", low=0, high=100),
        PointSpec("north/booth-pressure", "pressure", "inH2O", factor=249.08891, low=-100, high=100),
        PointSpec("north/mode", "word", words=MODES),
        PointSpec("south/air-temperature", "temperature", "degC", low=-20, high=120),
    )
}


def shop(**changes: Any) -> PointMap:
    return PointMap(**({"points": POINTS, "booths": frozenset({"north", "south", "mix-room"})} | changes))
