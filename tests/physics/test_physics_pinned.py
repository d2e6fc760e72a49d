"""Our own output, pinned so that a change of formula shows. Not evidence: the published values are in another file."""

from __future__ import annotations

import pytest

from booth.physics import moist_air, pace


@pytest.mark.parametrize(
    ("t_c", "rh", "dew_point", "frost_point"),
    [(22, 60, 13.88575, None), (18, 85, 15.44237, None), (5, 20, -16.11841, -14.41186), (-20, 80, -22.56276, -20.28168)],
)
def test_dew_and_frost_point(t_c, rh, dew_point, frost_point):
    assert moist_air.dew_point_c(t_c, rh) == pytest.approx(dew_point, abs=0.00002)
    assert moist_air.frost_point_c(t_c, rh) == (frost_point if frost_point is None else pytest.approx(frost_point, abs=0.00002))


def test_pace_between_and_beyond_the_points():
    schedule = pace.Pace.table([(15, 1800), (20, 1200), (30, 600)])
    times = [1 / schedule.pace_per_s(t, "maximum") for t in (10, 17.5, 25, 40)]
    assert times == pytest.approx([1800, 1467.133, 843.611, 313.579], abs=0.001)
