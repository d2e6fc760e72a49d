"""The make-up air unit: fan against filters, fresh-air damper, burner, humidifier.

The fan's rise falls with the square of the flow; ducts cost the square of the flow, filters are nearly linear in it:

    rise * speed^2  =  a * Q^2  +  k * Q          k grows as the filters load

so that the flow has a closed form. Dust loads the intake filter with every cubic metre, overspray the exhaust filter
with every second of an open gun.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, sqrt

from simulators.moist_air import HEAT_OF_AIR, density_kg_m3, humidity_ratio, saturation_pa
from simulators.weather import Outside

FAN_RISE_PA = 760.0  # at full speed and no flow
QUADRATIC = 1.146  # Pa/(m3/s)^2: fan curve and ducts together
INTAKE_CLEAN = 5.33  # Pa/(m3/s): 120 Pa at 22.5 m3/s
EXHAUST_CLEAN = 2.67
OVERSPRAY_LOAD = 1.2e-5  # share of the clean exhaust filter's resistance, per second of one gun
FAN_LAG_S, DAMPER_LAG_S, BURNER_LAG_S, HUMIDIFIER_LAG_S = 6.0, 8.0, 20.0, 40.0
BURNER_W = 600e3
BURNER_GAIN = 1.5  # kelvin of supply per kelvin that the booth lacks; well damped with the lags above
FAN_HEAT_K = 0.5
HUMIDIFIER_SHARE = 0.48  # relative humidity that the humidifier keeps as a floor
HUMIDIFIER_MOST = 0.004  # kg/kg that it can add
BAKE_C = 75.3


@dataclass(frozen=True)
class Program:
    """What the controller does in a mode: fan speed (1 = full), fresh air (None = all of it), heating, ramp."""

    speed: float
    fresh_m3_s: float | None = None
    heats: bool = True
    bakes: bool = False
    humidifies: bool = False
    ramp_k_min: float = 3.0


PROGRAMS = {
    "idle": Program(speed=0.28),
    "spray": Program(speed=1.0, humidifies=True),
    "flash": Program(speed=1.0, humidifies=True),
    "purge": Program(speed=1.0),
    "bake": Program(speed=0.57, fresh_m3_s=2.0, bakes=True, ramp_k_min=4.6),
    "cool": Program(speed=1.0, heats=False),
    "fault": Program(speed=0.0, heats=False),
}


def towards(value: float, goal: float, dt: float, lag_s: float) -> float:
    """First-order lag, exact for a goal that stands still during dt."""
    return goal + (value - goal) * exp(-dt / lag_s)


@dataclass
class MakeUpAir:
    """State of one unit. Flows in m3/s, temperatures in degC, loads as shares of the clean filter's resistance."""

    dust_load_per_m3: float
    flow: float = 4.5
    fresh_share: float = 1.0
    supply_c: float = 22.0
    supply_ratio: float = 0.009
    target_c: float = 22.0
    added_ratio: float = 0.0
    intake_load: float = 0.0
    exhaust_load: float = 0.0

    def step(
        self, dt: float, mode: str, outside: Outside, booth_c: float, booth_ratio: float, setpoint_c: float, open_guns: int
    ) -> None:
        """Advance by dt seconds; open_guns counts the guns that spray."""
        program = PROGRAMS[mode]
        self._blow(dt, program, open_guns)
        fresh = self.fresh_share
        mixed_c = fresh * outside.temperature_c + (1 - fresh) * booth_c + FAN_HEAT_K
        mixed_ratio = fresh * outside.humidity_ratio + (1 - fresh) * booth_ratio
        self._heat(dt, program, mixed_c, booth_c, setpoint_c, outside.pressure_pa)
        self._humidify(dt, program, mixed_ratio, outside.pressure_pa)

    @property
    def filter_drop_pa(self) -> float:
        """Pressure drop over the intake ceiling filter."""
        return INTAKE_CLEAN * (1 + self.intake_load) * self.flow

    @property
    def fresh_flow(self) -> float:
        """Outside air that enters, and therefore leaves [m3/s]."""
        return self.flow * self.fresh_share

    def steady_flow(self, speed: float) -> float:
        """The flow where the fan's rise meets the losses [m3/s]."""
        linear = INTAKE_CLEAN * (1 + self.intake_load) + EXHAUST_CLEAN * (1 + self.exhaust_load)
        rise = FAN_RISE_PA * speed * speed
        return (sqrt(linear * linear + 4 * QUADRATIC * rise) - linear) / (2 * QUADRATIC)

    def _blow(self, dt: float, program: Program, open_guns: int) -> None:
        self.intake_load += self.dust_load_per_m3 * self.flow * dt
        self.exhaust_load += OVERSPRAY_LOAD * open_guns * dt
        self.flow = towards(self.flow, self.steady_flow(program.speed), dt, FAN_LAG_S)
        whole = program.fresh_m3_s is None or self.flow < program.fresh_m3_s
        self.fresh_share = towards(self.fresh_share, 1.0 if whole else program.fresh_m3_s / self.flow, dt, DAMPER_LAG_S)

    def _heat(self, dt: float, program: Program, mixed_c: float, booth_c: float, setpoint_c: float, pressure_pa: float) -> None:
        goal = BAKE_C if program.bakes else setpoint_c
        if not program.heats:
            self.target_c, wanted = booth_c, mixed_c
        else:
            most = program.ramp_k_min / 60 * dt
            self.target_c += max(-most, min(most, goal - self.target_c))
            wanted = self.target_c + BURNER_GAIN * (self.target_c - booth_c)
        per_kelvin = density_kg_m3(mixed_c, pressure_pa) * self.flow * HEAT_OF_AIR + 1.0
        wanted = max(mixed_c, min(wanted, mixed_c + BURNER_W / per_kelvin))  # it heats only; there is no chiller
        self.supply_c = towards(self.supply_c, wanted, dt, BURNER_LAG_S)

    def _humidify(self, dt: float, program: Program, mixed_ratio: float, pressure_pa: float) -> None:
        wanted = 0.0
        if program.humidifies:
            floor = humidity_ratio(HUMIDIFIER_SHARE * saturation_pa(self.target_c), pressure_pa)
            wanted = max(0.0, min(floor - mixed_ratio, HUMIDIFIER_MOST))
        self.added_ratio = towards(self.added_ratio, wanted, dt, HUMIDIFIER_LAG_S)
        self.supply_ratio = mixed_ratio + self.added_ratio
