"""Inside, outside, or too close to tell. Published cases are in test_physics_published.py."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from booth.physics.decision import CERTAIN, certainly_beyond, conformity_probability, guarded, possibly_beyond, simple

values = st.floats(-100, 100)


def test_dew_point_margin_is_accepted_from_the_limit_plus_u():
    # ILAC-G8:09/2019, 4.2.2, applied: at least 3 K with U = 0.6 K is accepted from 3.6 K.
    assert guarded(3.6, 3, 0.6, "minimum") == "inside"
    assert guarded(3.59, 3, 0.6, "minimum") == "guard_band"
    assert guarded(2.41, 3, 0.6, "minimum") == "guard_band"
    assert guarded(2.39, 3, 0.6, "minimum") == "outside"


def test_simple_acceptance_takes_the_limit_itself():
    assert simple(3.0, 3.0, "minimum") == simple(85.0, 85.0, "maximum") == "inside"
    assert simple(2.999, 3.0, "minimum") == simple(85.001, 85.0, "maximum") == "outside"


@given(values, values, st.floats(0, 10))
def test_a_minimum_is_a_maximum_seen_in_a_mirror(value, limit, u):
    assert guarded(value, limit, u, "minimum") == guarded(-value, -limit, u, "maximum")


@given(values, values, st.floats(0, 10), st.floats(0, 10))
def test_more_uncertainty_never_makes_a_verdict_firmer(value, limit, u, more):
    if guarded(value, limit, u, "maximum") == "guard_band":
        assert guarded(value, limit, u + more, "maximum") == "guard_band"


def test_masks_bound_both_sides_and_never_call_nan_good():
    readings = np.array([17.4, 17.6, 18.6, 25.0, 29.8, 30.6, math.nan])
    assert certainly_beyond(readings, 18, 30, 0.5).tolist() == [True, False, False, False, False, True, False]
    assert possibly_beyond(readings, 18, 30, 0.5).tolist() == [True, True, False, False, True, True, True]
    assert possibly_beyond(readings, None, None, 0.5).tolist() == [False] * 6 + [True]
    assert possibly_beyond(20.0, 18, 30, math.nan)


def test_conformity_probability_is_the_normal_one():
    y = np.linspace(15, 33, 19)
    expected = norm.cdf((30 - y) / 0.4) - norm.cdf((18 - y) / 0.4)
    np.testing.assert_allclose(conformity_probability(y, 18, 30, 0.4), expected, atol=1e-14)
    assert type(conformity_probability(20, 18, None, 0.4)) is float
    assert conformity_probability(18, 18, None, 0.4) == pytest.approx(0.5)


def test_a_guard_band_of_u_is_certain_to_977_in_a_thousand():
    # ILAC-G8:09/2019, table 1: below 2.5 % risk of a wrong acceptance.
    assert CERTAIN == pytest.approx(norm.cdf(2)) and 1 - CERTAIN < 0.025


def test_what_cannot_be_judged_is_refused():
    with pytest.raises(ValueError, match="cannot judge nan"):
        guarded(math.nan, 3, 0.6, "minimum")
    with pytest.raises(ValueError, match="uncertainty -0.1"):
        guarded(4, 3, -0.1, "minimum")
    with pytest.raises(ValueError, match='write "minimum" or "maximum"'):
        guarded(4, 3, 0.1, "least")
    with pytest.raises(ValueError, match="above zero"):
        conformity_probability(20, 18, 30, 0)
