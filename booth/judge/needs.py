"""What a requirement must be shown: which measures of the booth, whether part probes, and over which stretch of time."""

from __future__ import annotations

from booth.shop.requirement import ClimateTerms, DwellTerms, FlashTerms, PotTerms, Requirement

MARGIN_INPUTS = ("air_temperature", "relative_humidity", "surface_temperature")
ON_PARTS = ("dew_point_margin", "part_temperature")
PART_KINDS = ("heat_up", "dwell", "peak", "heating_rate", "over_bake", "cool_below")
POT_KINDS = ("pot_life", "induction")
DECIDING = ("air_temperature", "relative_humidity", "air_velocity", "booth_pressure", "air_flow")
"""Measures whose instruments must be in calibration; beside them the part probes (without any, the surface's) and the pot."""


def booth_measures(requirement: Requirement) -> list[str]:
    """Measures of the booth that the requirement rests on, beside part probes and the pot."""
    terms = requirement.terms
    if isinstance(terms, ClimateTerms):
        return [*_inputs(terms.limit.measure), *(["mode"] if terms.modes is not None else [])]
    driving = ["air_temperature"] if getattr(terms, "driven_by", None) == "air" else []
    if isinstance(terms, FlashTerms):
        return sorted({*driving, *(measure for limit in terms.conditions for measure in _inputs(limit.measure))})
    if isinstance(terms, PotTerms | DwellTerms):
        return driving
    return {"mode": ["mode"], "purge_volumes": ["air_flow"]}.get(requirement.kind, [])


def _inputs(measure: str) -> list[str]:
    if measure == "dew_point_margin":
        return list(MARGIN_INPUTS)
    return [] if measure == "part_temperature" else [measure]


def needs_parts(requirement: Requirement) -> bool:
    terms = requirement.terms
    if isinstance(terms, ClimateTerms):
        return terms.limit.measure in ON_PARTS
    if isinstance(terms, FlashTerms):
        return terms.driven_by == "part" or any(limit.measure in ON_PARTS for limit in terms.conditions)
    return requirement.kind in PART_KINDS


def needs_pot(requirement: Requirement) -> bool:
    return isinstance(requirement.terms, PotTerms) and requirement.terms.driven_by == "pot"
