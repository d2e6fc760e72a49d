"""Arithmetic on air that the site measured by hand: where to hold the probe, velocity, flow, balance.

As in booth.reports.exposure_sums the working is written out with its rule and source, and nothing says that anybody is safe.
"""

from __future__ import annotations

from dataclasses import dataclass

from booth.physics import airflow, moist_air, traverse
from booth.reports.working import SumError, Working
from booth.units import UnitError, parse, show

POSITIONS = {
    "log-tchebycheff": (traverse.log_tchebycheff, "side of a rectangle", "log-Tchebycheff: ISO 3966, ASHRAE Standard 111"),
    "log-linear": (traverse.log_linear, "diameter of a round duct", "log-linear: ISO 3966, ASHRAE Standard 111"),
    "equal-area": (traverse.equal_area, "side", "centres of equal areas, (2i − 1)/2n: EPA Method 1 (40 CFR 60, appendix A-1)"),
    "equal-area-round": (
        traverse.equal_area_round,
        "diameter of a round duct",
        "middles of rings of equal area, (1 ∓ √(1 − (2i − 1)/n))/2: EPA Method 1, 40 CFR 60, appendix A-1",
    ),
}
BASES = {"70degF": airflow.STANDARD_AIR, "20degC": airflow.STANDARD_EPA, "0degC": airflow.NORMAL}
VELOCITY_RULE = "V = C·√(2·p/ρ), Bernoulli, as ISO 3966 and ASHRAE Standard 111 use it; ρ of the moist air (ASHRAE Fundamentals)"
GRID_RULE = "mean of a grid whose points stand for equal areas; pressures are made velocities first, one by one"
FLOW_RULE = "the same mass of air as an ideal gas: Q·(T₀/T)·(p/p₀)"
BALANCE_RULE = "balance of make-up air by mass: ρ₁·Q₁ − ρ₂·Q₂"
MEASURED = "It is arithmetic on the figures entered. How the air moves elsewhere in the booth they do not say."


@dataclass(frozen=True)
class Air:
    """What the air was like where it was measured: °C, % over water, Pa."""

    temperature_c: float
    humidity: float
    pressure_pa: float

    def density(self) -> float:
        """kg/m³. Raises SumError outside what the formulas hold for."""
        ratio = moist_air.humidity_ratio(self.temperature_c, self.humidity, self.pressure_pa)
        found = moist_air.density_kg_m3(self.temperature_c, ratio, self.pressure_pa)
        if not found > 0:
            raise SumError(
                f"air of {self} is outside what the formulas hold for; "
                'write for example --temperature "22 degC" --humidity 50 --pressure "101.3 kPa"'
            )
        return found

    def __str__(self) -> str:
        return f"{self.temperature_c:.4g} °C, {self.humidity:g} %, {self.pressure_pa / 1000:g} kPa"


def positions(rule: str, points: int, size_m: float | None) -> Working:
    """Distances from one wall, as shares of a side or diameter, and in mm where its size is given."""
    work, of, source = POSITIONS[rule]
    try:
        shares = work(points)
    except ValueError as problem:
        raise SumError(str(problem)) from None
    lines = [
        f"{number}: {share:.3f}" + (f" = {1000 * size_m * share:.0f} mm from the wall" if size_m else " of it")
        for number, share in enumerate(shares, 1)
    ]
    result = tuple(share * size_m for share in shares) if size_m else tuple(shares)
    sentence = f"{points} points on a {of}, counted from one wall"
    return Working("positions", source, tuple(lines), result, "m" if size_m else "share", sentence, MEASURED)


def velocity(readings: list[str], air: Air | None, coefficient: float, area_m2: float | None) -> Working:
    """Mean of a grid of velocities, or of velocity pressures; and the flow through an area. A reading of each point."""
    lines, found = [], {}
    for number, text in enumerate(readings, 1):
        found[str(number)], line = _one_velocity(text, air, coefficient)
        lines.append(f"{number}: {line}")
    try:
        made = traverse.grid(found)
    except ValueError as problem:
        raise SumError(str(problem)) from None
    lines.append(f"mean of {made.points}: {made.mean:.4g} m/s; lowest {made.lowest:.4g}, highest {made.highest:.4g} m/s")
    sentence = f"The mean over {made.points} points is {show(made.mean, 'velocity')}, the lowest {show(made.lowest, 'velocity')}"
    if area_m2 is not None:
        lines.append(f"{made.mean:.4g} m/s × {area_m2:g} m² = {made.mean * area_m2:.4g} m³/s")
        sentence += f"; through {area_m2:g} m² it makes {show(made.mean * area_m2, 'flow')}"
    rule = GRID_RULE if air is None else f"{VELOCITY_RULE}; {GRID_RULE}"
    return Working("velocity", rule, tuple(lines), made.mean, "m/s", sentence, MEASURED)


def _one_velocity(text: str, air: Air | None, coefficient: float) -> tuple[float | None, str]:
    """A velocity in m/s with how it came about; None for a point without a reading, written `-`."""
    if text.strip() == "-":
        return None, "no reading"
    try:
        return (value := parse(text, "velocity")), f"{value:g} m/s, as entered"
    except UnitError:
        pass
    try:
        pressure = parse(text, "pressure")
    except UnitError:
        raise SumError(f"{text!r} is no velocity and no velocity pressure; write for example '0.5 m/s' or '25 Pa'") from None
    if air is None:
        raise SumError('a velocity pressure needs the air\'s density; write --temperature "22 degC" of the air')
    if pressure < 0:
        raise SumError(f"{text} is below zero: the air ran backwards, or the two hoses are the wrong way round; measure it again")
    density = air.density()
    value = airflow.velocity_m_s(pressure, density, coefficient)
    return value, f"{coefficient:g}·√(2 · {pressure:g} Pa / {density:.4f} kg/m³) = {value:.4g} m/s (air of {air})"


def flow(flow_m3_s: float, air: Air, basis: str | None) -> Working:
    """An actual flow at every standard basis, or a standard flow as it really was."""
    kelvin, lines = air.temperature_c + 273.15, []
    if basis is not None:
        one = BASES[basis]
        result = airflow.actual_flow(flow_m3_s, one, air.temperature_c, air.pressure_pa)
        lines.append(
            f"{flow_m3_s:.4g} × {kelvin:.2f} K / {one.temperature_c + 273.15:.2f} K × {one.pressure_pa:.0f} Pa / "
            f"{air.pressure_pa:.0f} Pa = {result:.4g} m³/s"
        )
        sentence = f"{show(flow_m3_s, 'flow')} at {one.name} is {show(result, 'flow')} of air at {_state(air)}"
        return Working("flow", f"{FLOW_RULE}; basis: {one.source}", tuple(lines), result, "m³/s", sentence, MEASURED)
    results = tuple(airflow.flow_at(flow_m3_s, air.temperature_c, air.pressure_pa, one) for one in BASES.values())
    for one, result in zip(BASES.values(), results, strict=True):
        lines.append(
            f"at {one.name} ({one.source}): {flow_m3_s:.4g} × {one.temperature_c + 273.15:.2f} K / {kelvin:.2f} K × "
            f"{air.pressure_pa:.0f} Pa / {one.pressure_pa:.0f} Pa = {result:.4g} m³/s"
        )
    told = ", ".join(f"{show(result, 'flow')} at {one.name}" for one, result in zip(BASES.values(), results, strict=True))
    sentence = f"{show(flow_m3_s, 'flow')} of air at {_state(air)} is {told}"
    return Working("flow", FLOW_RULE, tuple(lines), results, "m³/s", sentence, MEASURED)


def _state(air: Air) -> str:
    return f"{air.temperature_c:.4g} °C and {air.pressure_pa / 1000:g} kPa"


def balance(intake_m3_s: float, intake: Air, exhaust_m3_s: float, exhaust: Air) -> Working:
    """Make-up air against exhaust, each with the state of its own air."""
    first, last = intake.density(), exhaust.density()
    try:
        made = airflow.make_up_balance(intake_m3_s, first, exhaust_m3_s, last)
    except ValueError as problem:
        raise SumError(str(problem)) from None
    lines = (
        f"intake: {intake_m3_s:g} m³/s × {first:.4f} kg/m³ ({intake}) = {intake_m3_s * first:.4g} kg/s",
        f"exhaust: {exhaust_m3_s:g} m³/s × {last:.4f} kg/m³ ({exhaust}) = {exhaust_m3_s * last:.4g} kg/s",
        f"difference {made.difference_kg_s:+.4g} kg/s = {100 * made.share:+.2f} % of the exhaust",
    )
    way = "less is supplied than exhausted" if made.difference_kg_s < 0 else "more is supplied than exhausted"
    way = way if made.difference_kg_s else "as much is supplied as exhausted"
    sentence = f"The difference is {made.difference_kg_s:+.3g} kg/s, {100 * made.share:+.1f} % of the exhaust: {way}"
    return Working("balance", BALANCE_RULE, lines, made.difference_kg_s, "kg/s", sentence, MEASURED)
