"""The table of limits that `booth check` prints, read off the demo shop's files and converted by hand.

Conversions from the definitions (NIST SP 811, appendix B): °F = 1.8 °C + 32, 1 K = 1.8 °F of difference, 1 ft/min = 0.00508 m/s,
1 in. w.g. = 249.089 Pa at 4 °C, 1 US gal = 3.785 412 L.
"""

from __future__ import annotations

import pytest
from demo_shop import shop

from booth.shop.promises import Promises
from booth.shop.table import LimitRow, between, limit_rows
from booth.units import show, show_us

CLEAR = "coatings/two-pack-clear.toml"

ROWS = [
    ("booths/north.toml", "air_velocity in spray", "at least 0.40 m/s", "at least 79 ft/min"),
    ("booths/north.toml", "booth_pressure in spray", "−5.0 Pa to 12.0 Pa", "−0.020 in. w.g. to 0.048 in. w.g."),
    ("booths/south.toml", "hazard.minimum_velocity", "at least 0.25 m/s", "at least 49 ft/min"),
    ("coatings/epoxy-sealer.toml", "climate.air_temperature", "18.0 °C to 30.0 °C", "64.4 °F to 86.0 °F"),
    ("coatings/epoxy-sealer.toml", "climate.relative_humidity", "at most 80 %", "at most 80 %"),
    ("coatings/epoxy-sealer.toml", "climate.dew_point_margin", "at least 3.0 K", "at least 5.4 °F difference"),
    (
        "coatings/epoxy-sealer.toml",
        "flash.minimum",
        "at least 30 min at 15.0 °C, 20 min at 20.0 °C, 12 min at 30.0 °C (part)",
        "at least 30 min at 59.0 °F, 20 min at 68.0 °F, 12 min at 86.0 °F (part)",
    ),
    (
        "coatings/waterborne-base.toml",
        "climate.dew_point_margin",
        "at least 3.0 K after 1.0 K for evaporation",
        "at least 5.4 °F difference after 1.8 °F difference for evaporation",
    ),
    ("coatings/waterborne-base.toml", "flash.appearance", "check uniformly-matt passed", "check uniformly-matt passed"),
    (CLEAR, "flash.maximum", "at most 40 min", "at most 40 min"),
    (CLEAR, "flash.out_of_limits", "go on", "go on"),
    (CLEAR, "pot_life.induction", "not stated", "not stated"),
    (CLEAR, "bake.start", "10 min to 30 min after the last coat", "10 min to 30 min after the last coat"),
    (CLEAR, "bake.heat_up", "60.0 °C within 35 min", "140.0 °F within 35 min"),
    (CLEAR, "bake.peak.fibreglass", "at most 82.0 °C", "at most 179.6 °F"),
    (CLEAR, "bake.heating_rate", "at most 5.0 K/min", "at most 9.0 °F/min"),
    (CLEAR, "bake.over_bake", "at most 2 h 00 min at or above 60.0 °C", "at most 2 h 00 min at or above 140.0 °F"),
    (CLEAR, "bake.interruption", "below 60.0 °C: pause", "below 140.0 °F: pause"),
    (CLEAR, "cool.waits.de-mask", "at least 20 min", "at least 20 min"),
    (CLEAR, "cool.below", "at most 40.0 °C", "at most 104.0 °F"),
    ("processes/standard.toml", "gates.water-test", "at least 113.6 L/min", "at least 30.0 US gal/min"),
    ("processes/standard.toml", "gates.wash", "passed", "passed"),
    ("processes/standard.toml", "steps.purge.volumes", "at least 4.0 volumes", "at least 4.0 volumes"),
]


def rows(*edit: str) -> dict[tuple[str, str], LimitRow]:
    found = limit_rows(shop(*edit))
    by_key = {(row.file, row.key): row for row in found}
    assert len(by_key) == len(found)
    return by_key


@pytest.mark.parametrize(("file", "key", "metric", "us"), ROWS, ids=[f"{row[0]}:{row[1]}" for row in ROWS])
def test_a_limit_in_both_systems(file: str, key: str, metric: str, us: str) -> None:
    row = rows()[file, key]
    assert (row.metric, row.us) == (metric, us)


def test_every_limit_has_a_source_and_what_is_not_stated_has_none() -> None:
    assert {row.key: bool(row.source) for row in rows().values()} == {
        row.key: row.metric != "not stated" for row in rows().values()
    }
    assert (
        rows()[CLEAR, "cool.minimum"].source
        == "Two-pack clear coat, technical data sheet (invented), revision 12 of 2026-02-09, p. 5"
    )
    assert rows()["booths/north.toml", "air_velocity in spray"].source == "shop rule: downdraft while spraying"


@pytest.mark.parametrize("key", ["start", "heat_up", "dwell", "peak", "heating_rate", "over_bake", "interruption"])
def test_a_part_of_the_bake_that_is_not_stated(key: str) -> None:
    row = rows(CLEAR, f"{key} = {{", f'{key} = "not_stated" #')[CLEAR, f"bake.{key}"]
    assert row == LimitRow(CLEAR, f"bake.{key}", "not stated", "not stated", "")


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('maximum = { time = "40 min"', 'maximum = "not_stated" #', "flash.maximum"),
        ('out_of_limits = { rule', 'out_of_limits = "not_stated" #', "flash.out_of_limits"),
        ('below = { temperature = "40 degC"', 'below = "not_stated" #', "cool.below"),
    ],
)  # fmt: skip
def test_other_limits_that_are_not_stated(old: str, new: str, key: str) -> None:
    assert rows(CLEAR, old, new)[CLEAR, key].metric == "not stated"


def test_there_are_as_many_silences_in_the_table_as_in_the_promises() -> None:
    demo = shop()
    promises = Promises(demo)
    said = {
        sentence
        for name, process in demo.processes.items()
        for step in process.steps
        for sentence in promises.of(name, step, None).not_stated
    }
    assert len(said) == sum(row.metric == "not stated" for row in limit_rows(demo))


def test_ranges_with_one_end_or_both() -> None:
    assert between(3, None, "temperature_difference")(show) == "at least 3.0 K"
    assert between(None, 75, "humidity")(show) == "at most 75 %"
    assert between(20, 32, "temperature")(show_us) == "68.0 °F to 89.6 °F"
