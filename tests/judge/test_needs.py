"""What each kind of requirement must be shown: which measures of the booth, whether part probes, whether the pot."""

from __future__ import annotations

import pytest

from booth.judge.needs import booth_measures, needs_parts, needs_pot
from booth.physics.pace import Pace
from booth.shop.requirement import ClimateLimit, ClimateTerms, DwellTerms, FlashTerms, NoTerms, PotTerms
from tests.judge.made_up import a_requirement

PACE = Pace.table([(20, 1200), (30, 600)])
AIR = ["air_temperature", "relative_humidity", "surface_temperature"]


def climate(measure: str, modes=None) -> ClimateTerms:
    return ClimateTerms(ClimateLimit(measure, 1.0, None), modes, 0, None, None)


def flash(driven_by: str | None, *measures: str) -> FlashTerms:
    return FlashTerms(PACE, driven_by, tuple(ClimateLimit(one, 1.0, None) for one in measures), "pause")


@pytest.mark.parametrize(
    ("kind", "terms", "measures", "parts", "pot"),
    [
        ("relative_humidity", climate("relative_humidity"), ["relative_humidity"], False, False),
        ("air_velocity", climate("air_velocity", ("spray",)), ["air_velocity", "mode"], False, False),
        ("dew_point_margin", climate("dew_point_margin"), AIR, True, False),
        ("part_temperature", climate("part_temperature"), [], True, False),
        ("flash_minimum", flash("part"), [], True, False),
        ("flash_minimum", flash("air"), ["air_temperature"], False, False),
        ("flash_minimum", flash("air", "relative_humidity", "air_temperature"), AIR[:2], False, False),
        ("flash_minimum", flash(None, "dew_point_margin"), AIR, True, False),
        ("flash_minimum", flash(None, "part_temperature"), [], True, False),
        ("pot_life", PotTerms(PACE, "pot"), [], False, True),
        ("pot_life", PotTerms(PACE, "air"), ["air_temperature"], False, False),
        ("dwell", DwellTerms(PACE, "air", "pause", 60.0), ["air_temperature"], True, False),
        ("dwell", DwellTerms(PACE, "part", "pause", 60.0), [], True, False),
        ("over_bake", NoTerms(), [], True, False),
        ("mode", NoTerms(), ["mode"], False, False),
        ("purge_volumes", NoTerms(), ["air_flow"], False, False),
        ("lots", NoTerms(), [], False, False),
    ],
)
def test_what_a_requirement_rests_on(kind: str, terms, measures: list, parts: bool, pot: bool) -> None:
    requirement = a_requirement(kind, terms, "number")
    assert booth_measures(requirement) == measures
    assert (needs_parts(requirement), needs_pot(requirement)) == (parts, pot)
