"""Arithmetic on figures that the site enters, with its working, rule and source written out. It never says that anybody is safe.

Each function gives the working as lines to read, so that a hygienist can follow and check it on paper.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from booth.physics import dilution, exposure
from booth.reports.working import SumError, Working
from booth.units import UnitError, affine, converted

AIR_UNITS = {"ppm": "ppm", "mg/m3": "mg/m³", "mg/m^3": "mg/m³", "mg/m³": "mg/m³"}
TWA_RULE = "time-weighted average ΣC·T/8 h, 29 CFR 1910.1000(d)(1)(i)"
MIXTURE_RULE = "sum of a mixture ΣC/L, 29 CFR 1910.1000(d)(2)(i)"
CONVERT_RULE = "ideal gas law: mg/m³ = ppm · M · p/(R · T)"
DILUTION_RULE = "air to 25 % of the lower explosive limit, 29 CFR 1910.94(c)(6)(ii)"
ESTIMATE = (
    "An estimate that assumes even mixing and that all of it evaporates at once: near the gun it is more. It is no gas reading, "
    "and a fire limit is no health limit."
)
CONVERT_FIRST = "convert one of them first (booth exposure convert)"
MEASURED = "It is arithmetic on the figures entered, and says nothing about who may breathe what: a hygienist judges that."


@dataclass(frozen=True)
class Limit:
    """A limit that the site looked up, and where."""

    value: float
    unit: str
    source: str


def concentration(text: str) -> tuple[float, str]:
    """`150 ppm` or `3.5 mg/m3`. Raises SumError."""
    match = re.fullmatch(r"\s*([0-9.]+(?:e-?\d+)?)\s*(\S+)\s*", text)
    try:
        value = float(match[1]) if match else float("nan")
    except ValueError:
        value = float("nan")
    if match is None or match[2] not in AIR_UNITS or value != value:
        raise SumError(f"{text!r} is not a concentration; write for example 150 ppm or 3.5 mg/m3")
    return value, AIR_UNITS[match[2]]


def hours(text: str) -> float:
    """`2 h`, `90 min`."""
    number, _, unit = text.strip().partition(" ")
    try:
        return converted(float(number), *affine(unit or "?", "duration")) / 3600
    except (ValueError, UnitError):
        raise SumError(f"{text!r} is not a time; write for example 2 h or 90 min") from None


def average(stretches: list[str], limit: Limit | None, shift_h: float) -> Working:
    """`150 ppm for 2 h`, one after another. The shift says only how much time must be accounted for: the rule divides by 8 h."""
    parts = [_split(one, " for ", "150 ppm for 2 h") for one in stretches]
    values = [concentration(first) for first, _ in parts]
    unit = _one_unit([unit for _, unit in values])
    times = [hours(last) for _, last in parts]
    try:
        result = exposure.time_weighted_average([value for value, _ in values], times, shift_h)
    except ValueError as problem:
        raise SumError(str(problem)) from None
    sums = " + ".join(f"{value:g} {unit} × {time:g} h" for (value, _), time in zip(values, times, strict=True))
    lines = [f"({sums}) / {exposure.RULE_H:g} h = {result:.4g} {unit}"]
    if shift_h != exposure.RULE_H:
        lines.append(f"the shift has {shift_h:g} h; the rule divides by {exposure.RULE_H:g} h all the same")
    sentence = f"The average as the rule reckons it, over {exposure.RULE_H:g} h, is {result:.4g} {unit}"
    if limit is not None:
        if limit.unit != unit:
            raise SumError(f"the limit is in {limit.unit}, the figures in {unit}; {CONVERT_FIRST}")
        lines.append(f"{result:.4g} / {limit.value:g} = {result / limit.value:.3f} of the limit entered ({limit.source})")
        sentence += f", {result / limit.value:.2f} of the limit entered: {limit.value:g} {unit} ({limit.source})"
    return Working("twa", TWA_RULE, tuple(lines), result, unit, sentence, MEASURED)


def mixture(pairs: list[str], source: str) -> Working:
    """`500 ppm of 1000 ppm`, one for each substance."""
    parts = [_split(one, " of ", "500 ppm of 1000 ppm") for one in pairs]
    found = [(concentration(first), concentration(last)) for first, last in parts]
    for (_, unit), (_, other) in found:
        _one_unit([unit, other])
    try:
        result = exposure.mixture_sum([value for (value, _), _ in found], [limit for _, (limit, _) in found])
    except ValueError as problem:
        raise SumError(str(problem)) from None
    line = " + ".join(f"{value:g}/{limit:g}" for (value, _), (limit, _) in found)
    side = "above 1, where the rule calls the limit of the mixture exceeded" if result > 1 else "not above 1"
    sentence = f"The sum is {result:.3f}, {side}; limits as entered ({source})"
    return Working("mixture", MIXTURE_RULE, (f"{line} = {result:.4f}",), result, "", sentence, MEASURED)


def conversion(text: str, molar_mass: float, temperature_c: float, pressure_pa: float) -> Working:
    """ppm to mg/m³ or back, at stated conditions."""
    value, unit = concentration(text)
    if not molar_mass > 0:
        raise SumError(f"a molar mass is above zero, not {molar_mass:g}; write for example --molar-mass 92.14")
    to_mass = unit == "ppm"
    work = exposure.mg_m3_of_ppm if to_mass else exposure.ppm_of_mg_m3
    result, other = work(value, molar_mass, temperature_c, pressure_pa), "mg/m³" if to_mass else "ppm"
    molar = dilution.GAS_CONSTANT * (temperature_c + 273.15) / pressure_pa * 1000
    lines = (
        f"molar volume R·T/p = 8.3145 · {temperature_c + 273.15:.2f} / {pressure_pa:.0f} = {molar:.3f} L/mol",
        f"{value:g} {unit} {'×' if to_mass else '÷'} {molar_mass:g} / {molar:.3f} = {result:.4g} {other}",
    )
    sentence = f"{value:g} {unit} is {result:.4g} {other} at {temperature_c:g} °C and {pressure_pa / 1000:g} kPa"
    return Working("convert", CONVERT_RULE, lines, result, other, sentence, MEASURED)


@dataclass(frozen=True)
class Solvent:
    """What one litre of a solvent becomes: m³ of vapour, % by volume, and whose figures these are. `share` of the liquid."""

    name: str
    share: float
    vapour_m3_l: float
    lel_percent: float
    source: str


def dilution_air(solvents: list[Solvent], rate_l_min: float, flow_m3_s: float | None, flow_source: str) -> Working:
    """Air for what evaporates at a rate of the gun, and the share of the limit in the air that was measured, if any."""
    if flow_m3_s is not None and not flow_m3_s > 0:
        raise SumError(f"the measured flow is {flow_m3_s:g} m³/s: without air nothing is diluted; write what was measured")
    lines, air, lel_shares = [], 0.0, 0.0
    for one in solvents:
        try:
            by_litre = dilution.dilution_volume(one.vapour_m3_l, one.lel_percent)
        except ValueError as problem:
            raise SumError(f"{one.name}: {problem}") from None
        rate = rate_l_min * one.share
        air += rate * by_litre / 60
        lines.append(
            f"{one.name}: 4 · (100 − {one.lel_percent:g}) · {one.vapour_m3_l:.4f} m³/L / {one.lel_percent:g} = {by_litre:.2f} m³ "
            f"of air a litre; × {rate:.3g} L/min = {rate * by_litre / 60:.3f} m³/s ({one.source})"
        )
        if flow_m3_s is not None:
            lel_shares += dilution.share_of_lel(rate * one.vapour_m3_l / 60, flow_m3_s, one.lel_percent)
    rest = 1 - sum(one.share for one in solvents)
    if rest > 0.0005:
        lines.append(f"the other {100 * rest:.0f} % of the liquid has no solvent stated and isn't reckoned with")
    sentence = f"About {air:.2f} m³/s of air would hold what evaporates to a quarter of the lower explosive limit"
    if flow_m3_s is not None:
        lines.append(f"in {flow_m3_s:.2f} m³/s ({flow_source}) they add up to {100 * lel_shares:.2f} % of the limit")
        sentence += f"; in {flow_m3_s:.2f} m³/s ({flow_source}) it would be about {100 * lel_shares:.1f} % of that limit"
    return Working("dilution", DILUTION_RULE, tuple(lines), air, "m³/s", sentence, ESTIMATE)


def _split(text: str, word: str, example: str) -> tuple[str, str]:
    first, found, last = text.partition(word)
    if not found:
        raise SumError(f"{text!r} can't be read; write for example {example!r}")
    return first, last


def _one_unit(units: list[str]) -> str:
    if len(set(units)) != 1:
        raise SumError(f"{' and '.join(sorted(set(units)))} can't be added up; {CONVERT_FIRST}")
    return units[0]
