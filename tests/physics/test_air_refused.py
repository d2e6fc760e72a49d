"""What the arithmetic of air refuses aloud, and where it says that it doesn't know."""

from __future__ import annotations

import math

import pytest

from booth.physics import airflow, content, dilution, exposure, traverse


@pytest.mark.parametrize(
    ("velocities", "says"),
    [
        ({"A1": 0.5, "A2": -0.1}, "point A2 of 2 reads -0.1: air that runs backwards"),
        ([0.5, None, 0.4], "point 2 of 3 has no reading"),
        ([0.5, math.nan], "point 2 of 2 has no reading"),
        ([math.inf], "infinite"),
        ([], "no points"),
    ],
)
def test_a_grid_with_a_hole_has_no_mean(velocities, says):
    with pytest.raises(ValueError, match=says):
        traverse.grid(velocities)


def test_a_grid_tells_its_mean_and_how_even_it_is():
    found = traverse.grid([0.4, 0.5, 0.6, 0.5])
    assert (found.mean, found.lowest, found.highest, found.points) == (pytest.approx(0.5), 0.4, 0.6, 4)
    assert found.evenness == pytest.approx((0.8, 1.2))


def test_a_still_point_counts():
    assert traverse.grid([0.0, 1.0]).mean == 0.5


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: traverse.log_linear(5), "take 4, 6, 8, 10"),
        (lambda: traverse.log_tchebycheff(4), "take 5, 6, 7"),
        (lambda: traverse.equal_area_round(5), "even number"),
        (lambda: traverse.equal_area(0), "needs points"),
        (lambda: dilution.dilution_volume(30, 0), "between 0 and 100"),
        (lambda: dilution.dilution_volume(30, 1.4, 25), "write 0.25"),
        (lambda: dilution.dilution_volume(30, 1.4, 1.01), "write 0.25"),
        (lambda: dilution.dilution_volume(30, 1.4, 0), "write 0.25"),
        (lambda: dilution.dilution_volume(30, 100), "between 0 and 100"),
        (lambda: dilution.dilution_volume(0, 1.4), "volume of vapour"),
        (lambda: dilution.share_of_lel(0.1, 0, 1.4), "without air nothing is diluted"),
        (lambda: dilution.mixture_lel_percent([0.5, 0.4], [1, 2]), "add up to 0.9"),
        (lambda: dilution.mixture_lel_percent([1], [1, 2]), "one limit for each"),
        (lambda: dilution.mixture_lel_percent([0.5, 0.5], [1, 100]), "between 0 and 100"),
        (lambda: dilution.mixture_lel_percent([0.5, 0.5], [0, 1]), "between 0 and 100"),
        (lambda: dilution.share_of_lel(-0.1, 1, 1.4), "the vapour can't be -0.1"),
        (lambda: dilution.dilution_flow_m3_s(1, 100, 0.5), "mixing factor of 1 or more"),
        (lambda: dilution.dilution_flow_m3_s(1, 0, 3), "concentration above zero"),
        (lambda: dilution.fire_flow_m3_s(1, 0, 4, 1, 20, 20), "0 < LEL < 100 %"),
        (lambda: dilution.fire_flow_m3_s(1, 1.4, 0.9, 1, 20, 20), "safety factor of 1 or more"),
        (lambda: dilution.fire_flow_m3_s(1, 1.4, 4, 1.1, 20, 20), "hot factor between 0 and 1"),
        (lambda: dilution.fire_flow_m3_s(1, 1.4, 4, 0, 20, 20), "hot factor between 0 and 1"),
        (lambda: exposure.time_weighted_average([100], [6]), "add up to 6 h of a shift of 8 h"),
        (lambda: exposure.time_weighted_average([100, -1], [4, 4]), "concentration 2 is -1"),
        (lambda: exposure.time_weighted_average([100], [4, 4]), "give one for each"),
        (lambda: exposure.mixture_sum([5], [0]), "limit 1 is 0: a limit is above zero"),
        (lambda: exposure.time_weighted_average([], []), "0 concentrations but 0 hours"),
        (lambda: exposure.time_weighted_average([100, 50], [4, -4]), "time 2 is -4"),
        (lambda: exposure.time_weighted_average([math.inf], [8]), "concentration 1 is inf"),
        (lambda: exposure.mixture_sum([5, 5], [10, math.inf]), "limit 2 is inf"),
        (lambda: content.hap_by_solids([1], 0, 0), "volume of solids"),
        (lambda: content.blend([], []), "0 volumes but 0 values"),
        (lambda: content.blend([1, 1], [2]), "2 volumes but 1 values"),
        (lambda: content.blend([0, 0], [2, 2]), "not all nothing"),
        (lambda: content.less_exempt(3, 7, 7), "fills the volume or is negative"),
        (lambda: content.less_exempt(3, -1, 7), "fills the volume or is negative"),
        (lambda: content.voc_by_solids(-1, 7), "or is negative"),
        (lambda: content.voc_less_water_and_exempt(content.Content(water_volume=0.6, exempt_volume=0.4)), "nothing is left"),
        (lambda: content.voc_less_water_and_exempt(content.Content(water_volume=0.6)), "exempt volume not stated"),
        (lambda: content.blend([1, -1], [2, 2]), "not negative"),
        (lambda: content.voc_by_solids(8, 7.36), "leaves no solids"),
        (lambda: content.voc_of(content.Content(volatile=0.3, water=0.2, exempt=0.2)), "more than all volatile"),
        (lambda: airflow.make_up_balance(-1, 1.2, 10, 1.2), "supply flow is -1"),
        (lambda: airflow.make_up_balance(1, 1.2, -1, 1.2), "exhaust flow is -1"),
        (lambda: airflow.make_up_balance(1, 1.2, 0, 1.2), "no balance without an exhaust"),
    ],
)
def test_what_makes_no_sense_is_refused(call, says):
    with pytest.raises(ValueError, match=says):
        call()


def test_what_lies_at_the_edge_of_sense_is_taken():
    assert dilution.dilution_volume(30, 50, 1) == pytest.approx(30)  # at the limit itself, half vapour and half air
    assert dilution.share_of_lel(0, 1, 1.4) == 0
    assert dilution.fire_flow_m3_s(1, 2, 1, 1, 20, 20) == pytest.approx(50)
    assert dilution.dilution_flow_m3_s(1, 100, 1) == pytest.approx(10_000)
    assert dilution.dilution_flow_m3_s(1, 0.5, 1) == pytest.approx(2e6)
    assert exposure.mixture_sum([0], [10]) == 0
    assert exposure.time_weighted_average([0, 80], [4, 4]) == pytest.approx(40)
    assert content.blend([1, 0], [2, 9]) == pytest.approx(2)
    assert content.less_exempt(3, 0, 7) == pytest.approx(3)
    assert content.voc_by_solids(0, 7) == 0
    assert airflow.make_up_balance(0, 1.2, 10, 1.2) == pytest.approx((-12, -1))


def test_volatiles_that_are_all_water_and_exempt_leave_no_voc_however_they_round():
    """0.3 - 0.1 - 0.2 is -2.8e-17 in binary."""
    assert content.voc_of(content.Content(volatile=0.3, water=0.1, exempt=0.2)) == 0


@pytest.mark.parametrize(
    ("air_changes", "share", "mixing"),
    [(0, 0.01, 1), (-6, 0.01, 1), (6, 0, 1), (6, -0.1, 1), (6, 1.5, 1), (6, 0.01, 0.9)],
)
def test_what_never_clears_has_no_clearing_time(air_changes, share, mixing):
    assert math.isnan(dilution.clearing_time_s(air_changes, share, mixing))


def test_what_is_all_left_takes_no_time_to_clear():
    assert dilution.clearing_time_s(6, 1, 1) == 0


@pytest.mark.parametrize(
    ("first", "last", "seconds"), [(100, 100, 60), (100, 120, 60), (100, 0, 60), (100, 50, 0), (100, 50, -9)]
)
def test_a_tracer_that_does_not_decay_tells_no_air_changes(first, last, seconds):
    assert math.isnan(dilution.air_changes_of_decay(first, last, seconds))


def test_a_negative_velocity_pressure_is_no_velocity():
    assert math.isnan(airflow.velocity_m_s(-4, 1.2, 1))


@pytest.mark.parametrize(
    ("content_", "names"),
    [(content.Content(), "volatile and water and exempt"), (content.Content(volatile=0.5, water=0), "exempt")],
)
def test_a_content_that_nobody_states_is_unknown_and_not_zero(content_, names):
    with pytest.raises(content.Unknown, match=f"{names} not stated"):
        content.voc_of(content_)


def test_heated_make_up_air_is_balanced_by_mass():
    balance = airflow.make_up_balance(10.55, 1.14, 10, 1.20)
    assert balance.difference_kg_s == pytest.approx(0.027)
    assert balance.share == pytest.approx(0.00225)


def test_standard_and_actual_flow_are_inverse_and_their_bases_differ():
    standard = airflow.flow_at(10, 60, 99_000, airflow.STANDARD_AIR)
    assert airflow.actual_flow(standard, airflow.STANDARD_AIR, 60, 99_000) == pytest.approx(10)
    # 0 °C against 70 °F: (459.67 + 32)/(459.67 + 70), and the same pressure.
    assert airflow.flow_at(10, 60, 99_000, airflow.NORMAL) / standard == pytest.approx(491.67 / 529.67)


def test_twelve_months_of_which_one_is_missing():
    full = {month: 10.0 for month in content.between((2025, 3), (2026, 3))}
    assert [one.total for one in content.rolling_twelve(full)][-2:] == [120, 120]
    assert content.rolling_twelve(full)[0].total is None  # eleven months before it aren't known
    holed = content.rolling_twelve(full | {(2025, 9): None})[-1]
    assert holed.total is None and holed.missing == ((2025, 9),)
    assert content.rolling_twelve({}) == []
    assert content.between((2025, 11), (2026, 2)) == [(2025, 11), (2025, 12), (2026, 1), (2026, 2)]
