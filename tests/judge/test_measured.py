"""A climate measure out of readings: the coldest and the hottest, the surface over the dew point, and modes that nobody knows."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest

from booth.judge.evidence import Evidence
from booth.judge.measured import Measured, measure
from booth.shop.requirement import ClimateLimit
from booth.times import SECOND
from tests.judge.made_up import MAX_AGE, at, part, series, span, without

PART = ClimateLimit("part_temperature", 15.0, 35.0)
AIR = ClimateLimit("air_velocity", 0.4, None)
WORDS = ("idle", "spray")
SILENT = at(5) - 5 * SECOND + MAX_AGE
"""From when a point says nothing whose readings come every five seconds and stop at five minutes."""


def measured(limit: ClimateLimit, evidence: Evidence, modes: tuple[str, ...] | None = None) -> Measured:
    return measure(limit, evidence, at(0), at(20), modes)


def minutes(found: Measured, where: np.ndarray) -> float:
    """How long a mask is true."""
    return float(np.diff(found.edges)[where].sum() / 6e7)


class TestOnTheVan:
    def test_a_minimum_is_held_against_the_coldest_and_a_maximum_against_the_hottest(self) -> None:
        found = measured(PART, span(parts=(part(20, "roof"), part(25, "sills"), part(22, "door"))))
        assert (set(found.low), set(found.high)) == ({20.0}, {25.0}) and found.known.all() and found.applicable.all()
        assert found.missing is None and set(found.uncertainty_at(found.edges[:-1])) == {0.0}

    def test_a_silent_probe_hides_nothing_and_proves_nothing(self) -> None:
        found = measured(PART, span(parts=(part(20, "roof"), part(without(series(10, 0, 20), 5, 20), "sills"))))
        silent = found.edges[:-1] >= SILENT
        assert (found.known == ~silent).all() and set(found.low[silent]) == {20.0} and set(found.low[~silent]) == {10.0}
        certain, possible = found.beyond(PART, guarded=False)
        assert (certain == ~silent).all() and possible.all()

    def test_without_probes_nothing_is_known(self) -> None:
        found = measured(PART, span())
        assert found.missing == "no part probe was assigned to this van"
        assert np.isnan(found.low).all() and np.isnan(found.high).all() and not found.known.any() and found.applicable.all()
        certain, possible = found.beyond(PART, guarded=True)
        assert not certain.any() and possible.all()

    def test_a_guarded_limit_is_exceeded_for_sure_by_the_uncertainty(self) -> None:
        """JCGM 106: U on either side of the limit is neither."""
        for value, certain, possible in ((14.4, True, True), (14.6, False, True), (15.4, False, True), (15.6, False, False)):
            found = measured(PART, span(parts=(part(value),), uncertainty={"part_temperature": 0.5}))
            assert [mask.all() for mask in found.beyond(PART, guarded=True)] == [certain, possible], value
            assert [mask.any() for mask in found.beyond(PART, guarded=False)] == [value < 15] * 2


class TestInAMode:
    def evidence(self, velocity: float, mode=None) -> Evidence:
        known = {"air_velocity": series(velocity, 0, 20)} | ({"mode": mode} if mode is not None else {})
        return span(series=known, modes=WORDS)

    def test_only_while_the_booth_was_in_it(self) -> None:
        mode = series(lambda m: np.where((m >= 5) & (m < 15), 1, 0), 0, 20)
        found = measured(AIR, self.evidence(0.2, mode), ("spray",))
        assert minutes(found, found.applicable) == pytest.approx(10) and found.known.all()
        assert minutes(found, found.applicable & found.beyond(AIR, False)[0]) == pytest.approx(10)
        assert minutes(*(one := measured(AIR, self.evidence(0.2, mode), ("idle", "spray")), one.applicable)) == pytest.approx(20)
        assert not measured(AIR, self.evidence(0.2, mode), ("bake",)).applicable.any()

    @pytest.mark.parametrize("limit", [AIR, ClimateLimit("air_velocity", None, 0.1)])
    def test_in_a_mode_that_nobody_knows_it_may_apply_and_nothing_is_certain(self, limit: ClimateLimit) -> None:
        mode = without(series(1, 0, 20), 5, 15)
        found = measured(limit, self.evidence(0.2, mode), ("spray",))
        unknown = (found.edges[:-1] >= SILENT) & (found.edges[:-1] < at(15))
        certain, possible = found.beyond(limit, False)
        assert found.applicable.all() and (found.known == ~unknown).all()
        assert (certain == ~unknown).all() and possible.all()

    def test_without_a_mode_point_nothing_is_certain(self) -> None:
        found = measured(AIR, self.evidence(0.2), ("spray",))
        assert found.applicable.all() and not found.known.any() and not found.beyond(AIR, False)[0].any()


class TestDewPointMargin:
    LIMIT = ClimateLimit("dew_point_margin", 3.0, None, surface_from_air=False, allowance_k=1.0)

    def margin(self, limit: ClimateLimit, **known) -> Measured:
        climate = {"air_temperature": series(24, 0, 20), "relative_humidity": series(60, 0, 20)}
        return measured(limit, span(series=climate | known.pop("series", {}), **known))

    def dew(self) -> float:
        psychrolib.SetUnitSystem(psychrolib.SI)
        return psychrolib.GetTDewPointFromRelHum(24, 0.6)

    def test_is_the_coldest_surface_less_the_dew_point_less_what_the_film_is_cooler(self) -> None:
        found = self.margin(self.LIMIT, parts=(part(22, "roof"), part(20, "sills")))
        assert found.low == pytest.approx(20 - self.dew() - 1, abs=0.01) and (found.high == found.low).all()

    def test_probes_on_the_van_go_before_the_booths_thermometer_and_that_before_the_air(self) -> None:
        surface = {"surface_temperature": series(18, 0, 20)}
        from_air = ClimateLimit("dew_point_margin", 3.0, None, surface_from_air=True, allowance_k=1.0)
        assert self.margin(from_air, series=surface, parts=(part(20),)).low == pytest.approx(19 - self.dew(), abs=0.01)
        assert self.margin(from_air, series=surface).low == pytest.approx(17 - self.dew(), abs=0.01)
        assert self.margin(from_air).low == pytest.approx(23 - self.dew(), abs=0.01)
        assert "doesn't allow the air" in self.margin(self.LIMIT).missing

    def test_needs_air_and_humidity(self) -> None:
        for only in ("air_temperature", "relative_humidity"):
            found = measured(self.LIMIT, span(series={only: series(24, 0, 20)}, parts=(part(20),)))
            assert found.missing == "the booth has no probe for temperature and humidity"

    def test_its_uncertainty_is_that_of_surface_air_and_humidity_together(self) -> None:
        """GUM 5.1.2, with the slopes of the dew point taken from psychrolib by differences."""
        u = {"part_temperature": 0.3, "air_temperature": 0.4, "relative_humidity": 2.0}
        self.dew()
        slope = [
            psychrolib.GetTDewPointFromRelHum(24.05, 0.6) - psychrolib.GetTDewPointFromRelHum(23.95, 0.6),
            psychrolib.GetTDewPointFromRelHum(24, 0.605) - psychrolib.GetTDewPointFromRelHum(24, 0.595),
        ]
        expected = np.sqrt(0.3**2 + (slope[0] / 0.1 * 0.4) ** 2 + (slope[1] * 2.0) ** 2)
        found = self.margin(self.LIMIT, parts=(part(20),), uncertainty=u)
        assert found.uncertainty_at(found.edges[:-1]) == pytest.approx(expected, rel=0.01)
        assert found.uncertainty_at(found.edges[3:5]) == pytest.approx(expected, rel=0.01)
        assert self.margin(self.LIMIT, parts=(part(20),)).uncertainty_at(found.edges[:2]) == pytest.approx(0)
