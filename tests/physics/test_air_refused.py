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
        (lambda: dilution.dilution_volume(0, 1.4), "volume of vapour"),
        (lambda: dilution.share_of_lel(0.1, 0, 1.4), "without air nothing is diluted"),
        (lambda: dilution.mixture_lel_percent([0.5, 0.4], [1, 2]), "add up to 0.9"),
        (lambda: dilution.mixture_lel_percent([1], [1, 2]), "one limit for each"),
        (lambda: dilution.dilution_flow_m3_s(1, 100, 0.5), "mixing factor of 1 or more"),
        (lambda: exposure.time_weighted_average([100], [6]), "add up to 6 h of a shift of 8 h"),
        (lambda: exposure.time_weighted_average([100, -1], [4, 4]), "concentration 2 is -1"),
        (lambda: exposure.time_weighted_average([100], [4, 4]), "give one for each"),
        (lambda: exposure.mixture_sum([5], [0]), "limit 1 is 0: a limit is above zero"),
        (lambda: content.hap_by_solids([1], 0, 0), "volume of solids"),
        (lambda: content.blend([1, -1], [2, 2]), "not negative"),
        (lambda: content.voc_by_solids(8, 7.36), "leaves no solids"),
        (lambda: content.voc_of(content.Content(volatile=0.3, water=0.2, exempt=0.2)), "more than all volatile"),
        (lambda: airflow.make_up_balance(-1, 1.2, 10, 1.2), "supply flow is -1"),
        (lambda: airflow.make_up_balance(1, 1.2, 0, 1.2), "no balance without an exhaust"),
    ],
)
def test_what_makes_no_sense_is_refused(call, says):
    with pytest.raises(ValueError, match=says):
        call()


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
