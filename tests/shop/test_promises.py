"""Promises: the requirements that follow from the demo shop's files, read off the files by hand."""

from __future__ import annotations

import pytest
from demo_shop import edited, files, shop

from booth.physics.pace import Pace
from booth.shop.promises import Promise, Promises, promise_of
from booth.shop.requirement import KINDS, CheckTerms, ClimateTerms, FlashTerms, PeakTerms, Requirement, WaitTerms
from booth.shop.shop import Shop, load_shop

CLEAR, STANDARD, NORTH = "coatings/two-pack-clear.toml", "processes/standard.toml", "booths/north.toml"

CLIMATE = "air_temperature relative_humidity dew_point_margin part_temperature booth:air_velocity booth:booth_pressure"
COAT = f"done mode {CLIMATE} pot_life lots calibration"
GATES = "gate:water-test gate:wash gate:sand gate:mask gate:moisture"
FLASH = "flash_minimum flash_maximum booth:air_velocity"
BAKE = "bake_start heat_up dwell peak:fibreglass peak:steel heating_rate over_bake"

STEPS = {
    "sealer": f"done {GATES} mode {CLIMATE} pot_life induction lots calibration",
    "sealer-flash": FLASH,
    "base-1": COAT,
    "base-flash": "flash_minimum flash_maximum appearance booth:air_velocity",
    "clear-1": COAT,
    "clear-flash": FLASH,
    "clear-2": COAT,
    "purge": "done purge_volumes",
    "bake": f"done {BAKE} calibration",
    "cool": "done cool_minimum cool_below wait:de-mask",
    "inspect": "check:inspect",
}
"""What each step of both demo processes asks for, in a booth with the demo's limits."""


def promise(of: Shop, step: str, process: str = "standard", booth: str | None = "north") -> Promise:
    return promise_of(of, process, of.processes[process].named(step), of.booths[booth] if booth else None)


def named(of: Shop, step: str, name: str, **where: str) -> Requirement:
    return next(one for one in promise(of, step, **where).requirements if one.id == f"{step}/{name}")


@pytest.mark.parametrize("process", ["standard", "high-roof"])
def test_a_process_asks_for_exactly_what_its_files_say(process: str) -> None:
    made = {
        step.step: [one.id for one in promise(shop(), step.step, process).requirements]
        for step in shop().processes[process].steps
    }
    assert made == {step: [f"{step}/{name}" for name in names.split()] for step, names in STEPS.items()}


def test_every_requirement_is_of_a_known_kind_under_an_id_of_its_own() -> None:
    demo = shop()
    for process in demo.processes:
        made = [one for step in demo.processes[process].steps for one in promise(demo, step.step, process).requirements]
        assert {one.kind for one in made} <= set(KINDS)
        assert len({one.id for one in made}) == len(made)


def test_without_a_booth_its_limits_are_left_out() -> None:
    names = [one.id for one in promise(shop(), "clear-1", booth=None).requirements]
    assert "clear-1/dew_point_margin" in names and not any("booth:" in name for name in names)


def test_limits_arrive_in_the_unit_used_inside_with_their_source_spelt_out() -> None:
    margin = named(shop(), "base-1", "dew_point_margin")
    assert (margin.low, margin.high, margin.quantity) == (3.0, None, "temperature_difference")
    assert margin.terms.limit.allowance_k == 1.0 and margin.terms.modes is None and margin.terms.grace_us == 60_000_000
    assert margin.source == (
        "Waterborne base coat, technical data sheet (invented), revision 7 of 2026-01-19, p. 2, allowance by shop trial"
    )
    air = named(shop(CLEAR, 'minimum = "20 degC"', 'minimum = "68 degF"'), "clear-1", "air_temperature")
    assert (air.low, air.high) == (pytest.approx(20.0), 32.0)


def test_a_source_of_the_booth_is_not_taken_for_a_page_of_the_coating_s_sheet() -> None:
    ours = shop(NORTH, "shop rule: downdraft while spraying", "sheet p. 9 of the fan")
    assert named(ours, "clear-1", "booth:air_velocity").source == "sheet p. 9 of the fan"


def test_a_limit_of_the_booth_holds_in_its_modes() -> None:
    coat, flash = named(shop(), "clear-1", "booth:air_velocity"), named(shop(), "clear-flash", "booth:air_velocity")
    assert (coat.low, coat.terms.modes, coat.terms.grace_us) == (0.40, ("spray",), 30_000_000)
    assert (flash.low, flash.terms.modes) == (0.30, ("flash",))
    purging = shop(NORTH, 'modes = ["flash"]', 'modes = ["flash", "purge", "bake", "cool"]')
    for step in ("purge", "bake", "cool"):
        made = named(purging, step, "booth:air_velocity")
        assert isinstance(made.terms, ClimateTerms) and made.terms.modes == (step,)


def test_a_fixed_time_is_in_seconds_and_a_tabulated_one_a_share() -> None:
    fixed = named(shop(), "clear-flash", "flash_minimum")
    assert (fixed.quantity, fixed.low, fixed.high) == ("duration", 8 * 60, None)
    assert fixed.terms.pace == Pace.fixed(8 * 60)
    table = named(shop(), "sealer-flash", "flash_minimum")
    assert (table.quantity, table.low, table.terms.driven_by) == ("number", 1.0, "part")
    assert table.terms.pace == Pace.table([(15, 1800), (20, 1200), (30, 720)])
    assert named(shop(), "sealer-flash", "flash_maximum").high == 75 * 60
    pot = named(shop(), "clear-1", "pot_life")
    assert (pot.quantity, pot.high, pot.terms.driven_by) == ("number", 1.0, "pot")
    assert (named(shop(), "base-1", "pot_life").quantity, named(shop(), "base-1", "pot_life").high) == ("duration", 8 * 3600)


def test_conditions_of_a_flash_are_the_climate_of_its_coating() -> None:
    terms = named(shop(), "sealer-flash", "flash_minimum").terms
    assert isinstance(terms, FlashTerms) and terms.out_of_limits == "pause"
    assert [limit.measure for limit in terms.conditions] == CLIMATE.split()[:4]


def test_a_bake_in_the_numbers_of_its_sheet() -> None:
    made = {one.id.removeprefix("bake/"): (one.low, one.high) for one in promise(shop(), "bake").requirements}
    assert made["bake_start"] == (600, 1800) and made["heat_up"] == (None, 2100)
    assert made["peak:fibreglass"] == (None, 82) and made["peak:steel"] == (None, 90)
    assert made["heating_rate"] == (None, 5) and made["over_bake"] == (None, 7200) and made["dwell"] == (1, None)
    dwell = named(shop(), "bake", "dwell").terms
    assert (dwell.interruption, dwell.below_c) == ("pause", 60) and dwell.pace == Pace.table([(60, 1800), (70, 1200)])
    assert named(shop(), "bake", "peak:steel").terms == PeakTerms("steel")


def test_gates_stand_before_the_first_coat_with_their_values() -> None:
    water = named(shop(), "sealer", "gate:water-test")
    assert water.terms == CheckTerms("water-test", retest_after_repair=True, value="flow")
    assert (water.quantity, water.low, water.source) == (
        "liquid_flow",
        pytest.approx(30 * 3.785411784),
        "common practice, no source",
    )
    moisture = named(shop(), "sealer", "gate:moisture")
    assert (moisture.quantity, moisture.low, moisture.high) == ("moisture", None, 12)


def test_a_limit_that_is_not_stated_is_a_sentence_and_no_requirement() -> None:
    silent = shop(CLEAR, 'maximum = { time = "40 min", source = "sheet p. 3" }', 'maximum = "not_stated"')
    made = promise(silent, "clear-flash")
    assert [one.id for one in made.requirements] == ["clear-flash/flash_minimum", "clear-flash/booth:air_velocity"]
    assert made.not_stated == ("Two-pack clear coat: the sheet doesn't state the longest flash-off.",)


NOT_STATED = [
    ("clear-1", 'induction = "not_stated"', 'induction = "not_stated"', ["the induction time before use"]),
    ("clear-flash", 'minimum = { time = "8 min"', 'minimum = "not_stated" #', ["the shortest flash-off"]),
    (
        "clear-flash",
        "out_of_limits = { rule",
        'out_of_limits = "not_stated" #',
        ["what conditions out of limits do to the flash-off"],
    ),
    ("bake", "start = { earliest", 'start = "not_stated" #', ["when the bake may and must start"]),
    ("bake", "heat_up = {", 'heat_up = "not_stated" #', ["how fast the part must be at temperature"]),
    ("bake", "dwell = {", 'dwell = "not_stated" #', ["the dwell of the bake"]),
    ("bake", "peak = {", 'peak = "not_stated" #', ["the highest part temperature in the bake"]),
    ("bake", ', fibreglass = "82 degC"', "", ["the highest temperature of fibreglass in the bake"]),
    ("bake", "heating_rate = {", 'heating_rate = "not_stated" #', ["the highest heating rate"]),
    ("bake", "over_bake = {", 'over_bake = "not_stated" #', ["how long a part may be baked over all rounds"]),
    ("bake", "interruption = {", 'interruption = "not_stated" #', ["what an interruption does to the dwell"]),
    ("cool", 'minimum = { time = "10 min"', 'minimum = "not_stated" #', ["the cool-down time"]),
    ("cool", "below = { temperature", 'below = "not_stated" #', ["the part temperature at the end of the cool-down"]),
]


@pytest.mark.parametrize(("step", "old", "new", "sentences"), NOT_STATED, ids=[case[3][0] for case in NOT_STATED])
def test_everything_that_a_sheet_is_silent_about_is_said(step: str, old: str, new: str, sentences: list[str]) -> None:
    said = promise(shop(CLEAR, old, new), step).not_stated
    assert said == tuple(f"Two-pack clear coat: the sheet doesn't state {what}." for what in sentences)


def test_a_pot_life_that_is_not_stated_at_all() -> None:
    text = files()[CLEAR]
    table = text[text.index("[pot_life]") : text.index("[bake]")]
    without = text.replace(table, "").replace("[sheet]", 'pot_life = "not_stated"\n\n[sheet]')
    made = promise(load_shop(files() | {CLEAR: without}), "clear-1")
    assert "clear-1/pot_life" not in [one.id for one in made.requirements]
    assert made.not_stated == (
        "Two-pack clear coat: the sheet doesn't state the pot life.",
        "Two-pack clear coat: the sheet doesn't state the induction time before use.",
    )


def test_purge_volumes_that_are_not_stated() -> None:
    ours = shop(
        STANDARD, 'volumes = { minimum = "4", source = "shop rule: fresh air before the burner" }', 'volumes = "not_stated"'
    )
    assert promise(ours, "purge").not_stated == (
        "Standard, lower body only: the process doesn't state the fresh-air volumes of step purge.",
    )


def test_the_rules_for_conditions_and_interruptions_become_not_stated() -> None:
    flash = shop(CLEAR, "out_of_limits = { rule", 'out_of_limits = "not_stated" #')
    assert named(flash, "clear-flash", "flash_minimum").terms.out_of_limits == "not_stated"
    bake = shop(CLEAR, "interruption = {", 'interruption = "not_stated" #')
    assert named(bake, "bake", "dwell").terms.interruption == "not_stated"


def test_the_decision_rule_is_the_site_s_unless_the_coating_has_its_own() -> None:
    def guarded(of: Shop) -> dict[str, bool]:
        return {step: named(of, step, name).guarded for step, name in (("base-1", "mode"), ("clear-1", "mode"), ("cool", "done"))}

    assert guarded(shop()) == {"base-1": False, "clear-1": False, "cool": False}
    own = edited(CLEAR, 'name = "Two-pack clear coat"', 'name = "Two-pack clear coat"\ndecision_rule = "guarded"')
    assert guarded(load_shop(own)) == {"base-1": False, "clear-1": True, "cool": True}
    site = edited("site.toml", 'decision_rule = "simple"', 'decision_rule = "guarded"')
    assert guarded(load_shop(site)) == {"base-1": True, "clear-1": True, "cool": True}


def test_what_to_do_goes_with_every_requirement_of_its_kind() -> None:
    assert named(shop(), "clear-1", "booth:air_velocity").what_to_do == "Gun down. Check the fan and the filters."
    assert named(shop(), "clear-1", "mode").what_to_do is None


def test_a_wait_after_the_bake() -> None:
    made = named(shop(CLEAR, 'time = "20 min"', 'time = "24 h"'), "cool", "wait:de-mask")
    assert (made.kind, made.quantity, made.low, made.high) == ("wait", "duration", 86_400, None)
    assert made.terms == WaitTerms("de-mask", Pace.fixed(86_400))
    assert made.source.endswith("revision 12 of 2026-02-09, p. 6")


def test_a_dwell_at_one_temperature_gives_no_credit_for_more() -> None:
    one_row = shop(CLEAR, '[["60 degC", "30 min"], ["70 degC", "20 min"]]', '[["60 degC", "30 min"]]')
    pace = named(one_row, "bake", "dwell").terms.pace
    assert [pace.pace_per_s(at, "minimum") * 1800 for at in (59.9, 60, 70)] == pytest.approx([0, 1, 1])


def test_promises_are_derived_once() -> None:
    promises = Promises(shop())
    step = promises.shop.processes["standard"].named("bake")
    assert promises.of("standard", step, "north") is promises.of("standard", step, "north")
    assert promises.of("standard", step, None) is not promises.of("standard", step, "north")
