"""The model's balances against closed forms, and the wet skin against PsychroLib's wet bulb."""

from __future__ import annotations

from math import exp

import psychrolib
import pytest

from simulators import part
from simulators.booth_air import HALL_W_K, VOLUME_M3, WALL_J_K, WALL_W_K, BoothAir
from simulators.makeup_air import EXHAUST_CLEAN, FAN_RISE_PA, INTAKE_CLEAN, QUADRATIC, MakeUpAir
from simulators.moist_air import HEAT_OF_AIR, density_kg_m3, saturation_pa
from simulators.part import BEHIND_W_M2_K, CAPACITY_J_M2_K, FILMS, Skin, conductance_w_m2_k
from simulators.weather import Climate, Outside, Weather

PRESSURE = 98_240.0
OUTSIDE = Outside(18.0, 12.0, 0.0089, PRESSURE, 0.0)


@pytest.mark.parametrize("substrate", CAPACITY_J_M2_K)
def test_dry_skin_answers_a_step_of_the_air_exponentially(substrate: str) -> None:
    """Lumped capacity: (T - Ta) / (T0 - Ta) = exp(-t / tau), tau = c / h (any heat-transfer textbook)."""
    skin = Skin(substrate, 1.0, temperature_c=20.0)
    tau = CAPACITY_J_M2_K[substrate] / (conductance_w_m2_k(0.25) + BEHIND_W_M2_K)
    for second in range(1, 3601):
        skin.step(1.0, 75.0, 1500.0, 0.25, 1.1)
        if second in (60, 600, 3600):
            assert skin.temperature_c == pytest.approx(75.0 - 55.0 * exp(-second / tau), abs=1e-6)


def test_steel_lags_behind_fibreglass() -> None:
    skins = {name: Skin(name, 1.0, temperature_c=20.0) for name in CAPACITY_J_M2_K}
    for skin in skins.values():
        for _ in range(600):
            skin.step(1.0, 75.0, 1500.0, 0.25, 1.1)
    assert skins["fibreglass"].temperature_c - skins["steel"].temperature_c > 5.0
    assert skins["fibreglass"].temperature_c > skins["gelcoat"].temperature_c > skins["steel"].temperature_c


def test_a_wet_cloth_comes_to_the_wet_bulb(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without retardation and without heat from behind the film is a wet-bulb thermometer (Lewis factor 1).

    PsychroLib's thermodynamic wet bulb; the analogy and constant properties are good to half a kelvin here.
    """
    psychrolib.SetUnitSystem(psychrolib.SI)
    monkeypatch.setattr(part, "RETARDATION", 1.0)
    monkeypatch.setattr(part, "BEHIND_W_M2_K", 0.0)
    for air_c, humidity in ((23.5, 0.50), (28.5, 0.65), (30.0, 0.30)):
        skin = Skin("fibreglass", 1.0, temperature_c=air_c, water=10.0)
        for _ in range(7200):
            skin.step(1.0, air_c, humidity * saturation_pa(air_c), 0.5, density_kg_m3(air_c, PRESSURE))
        wet_bulb = psychrolib.GetTWetBulbFromRelHum(air_c, humidity, PRESSURE)
        assert skin.temperature_c == pytest.approx(wet_bulb, abs=0.5)


def test_film_gives_up_all_its_water_and_no_more() -> None:
    skin = Skin("fibreglass", 10.0)
    skin.spray(FILMS["waterborne-base"], 1.0)
    given = sum(skin.step(1.0, 23.5, 1450.0, 0.5, 1.15) for _ in range(3600))
    assert given == pytest.approx(10.0 * FILMS["waterborne-base"].water)
    assert skin.water == 0.0


def test_drying_stops_in_saturated_air() -> None:
    skin = Skin("fibreglass", 1.0, temperature_c=22.0, water=0.01)
    assert skin.step(1.0, 22.0, saturation_pa(22.0), 0.5, 1.15) == 0.0


def test_booth_settles_where_heat_in_equals_heat_out() -> None:
    """Steady state by hand: m cp (Ts - T) = (T - Th) / (1/UA_wall + 1/UA_hall), three conductances in a row."""
    air, flow, supply_c, hall_c = BoothAir(), 11.0, 75.0, 22.0
    for _ in range(20_000):
        air.step(1.0, flow, supply_c, 0.009, PRESSURE, hall_c)
    carried = density_kg_m3(air.temperature_c, PRESSURE) * flow * HEAT_OF_AIR
    lost = 1 / (1 / WALL_W_K + 1 / HALL_W_K)
    assert air.temperature_c == pytest.approx((carried * supply_c + lost * hall_c) / (carried + lost), abs=1e-3)


def test_energy_is_conserved_on_the_way() -> None:
    """Heat brought in minus heat lost to the hall equals what air and walls have stored, over ten minutes of warming."""
    air, flow, supply_c, hall_c, dt = BoothAir(), 5.0, 60.0, 22.0, 0.1
    stored = brought = 0.0
    for _ in range(6000):
        before, wall_before = air.temperature_c, air.wall_c
        density = density_kg_m3(air.temperature_c, PRESSURE)
        air.step(dt, flow, supply_c, 0.009, PRESSURE, hall_c)
        middle, wall_middle = (before + air.temperature_c) / 2, (wall_before + air.wall_c) / 2
        brought += dt * (density * flow * HEAT_OF_AIR * (supply_c - middle) - HALL_W_K * (wall_middle - hall_c))
        stored += density * VOLUME_M3 * HEAT_OF_AIR * (air.temperature_c - before) + WALL_J_K * (air.wall_c - wall_before)
    assert stored == pytest.approx(brought, rel=2e-3)


def test_moisture_balance_closes() -> None:
    """Steady state: what evaporates leaves with the air, W - Ws = evaporation / m."""
    air, flow, evaporation = BoothAir(temperature_c=23.5, wall_c=23.5), 22.0, 0.004
    for _ in range(3600):
        air.step(1.0, flow, 23.5, 0.009, PRESSURE, 23.5, evaporation_kg_s=evaporation)
    mass_flow = density_kg_m3(air.temperature_c, PRESSURE) * flow
    assert mass_flow * (air.humidity_ratio - 0.009) == pytest.approx(evaporation, rel=1e-6)


@pytest.mark.parametrize("load", [0.0, 0.5, 1.5])
def test_flow_lies_where_the_fan_meets_the_losses(load: float) -> None:
    unit = MakeUpAir(0.0, intake_load=load, exhaust_load=load / 4)
    flow = unit.steady_flow(1.0)
    filters = INTAKE_CLEAN * (1 + load) + EXHAUST_CLEAN * (1 + load / 4)
    assert FAN_RISE_PA - QUADRATIC * flow**2 == pytest.approx(filters * flow, rel=1e-9)
    assert flow < MakeUpAir(0.0).steady_flow(1.0) or load == 0.0


def test_burner_brings_outside_air_to_the_setpoint_and_never_cools() -> None:
    unit, air = MakeUpAir(0.0), BoothAir()
    for _ in range(1800):
        unit.step(1.0, "spray", OUTSIDE, air.temperature_c, air.humidity_ratio, 23.5, 0)
        air.step(1.0, unit.flow, unit.supply_c, unit.supply_ratio, PRESSURE, 22.0)
    assert air.temperature_c == pytest.approx(23.5, abs=0.1)
    for _ in range(1800):
        unit.step(1.0, "spray", OUTSIDE, air.temperature_c, air.humidity_ratio, 10.0, 0)
        air.step(1.0, unit.flow, unit.supply_c, unit.supply_ratio, PRESSURE, 22.0)
    assert air.temperature_c > OUTSIDE.temperature_c


def test_front_raises_the_dew_point_once_and_for_good() -> None:
    climate = Climate()
    weather = Weather(3, climate)
    before, after = weather.at(climate.front_at - 3600), weather.at(climate.front_at + 3600)
    assert before.dew_point_c == pytest.approx(climate.dew_point_before_c, abs=0.4)
    assert after.dew_point_c == pytest.approx(climate.dew_point_after_c, abs=0.4)
    assert all(weather.at(s).dew_point_c < weather.at(s).temperature_c for s in range(20_000, 51_000, 60))
