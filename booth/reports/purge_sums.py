"""Arithmetic on a purge: what would be left after so many volumes, how long until so little is left, what a tracer's decay shows.

An estimate on a mixing factor that somebody judged. It never says that a booth is clean, or that anybody may go in.
"""

from __future__ import annotations

from booth.physics.dilution import air_changes_of_decay, clearing_time_s
from booth.physics.ventilation import air_changes, decay_fraction
from booth.reports.working import SumError, Working

PURGE_RULE = "exponential decay exp(−n/K): ACGIH Industrial Ventilation; CDC (2003), appendix B, table B.1, with K = 1"
DECAY_RULE = "air changes from a tracer's decay: ln(C₁/C₂)/t; mixing is in it"
ESTIMATE = (
    "An estimate: it takes the mixing as entered, which nobody measured, no source going on, and walls that give nothing off. "
    "It is no gas reading and says nothing about who may go in; a clearance time is measured in the booth, with smoke."
)
TRACER = "It tells of the place where the tracer was read, on that day and with the fan as it ran then."


def purge(volumes: float, mixing: float, working: tuple[str, ...] = ()) -> Working:
    """The share of what was in the air that would be left after so many volumes of fresh air."""
    left = decay_fraction(volumes, _mixing(mixing))
    if not volumes >= 0:
        raise SumError(f"a purge has no {volumes:g} volumes; write for example --volumes 5.2")
    lines = (*working, f"exp(−{volumes:.4g} / {mixing:g}) = {left:.4g}")
    sentence = f"{volumes:.3g} volumes, with a mixing factor of {mixing:g}, would leave {100 * left:.3g} % of what was in the air"
    return Working("purge", PURGE_RULE, lines, left, "share", sentence, ESTIMATE)


def purge_of_flow(flow_m3_s: float, volume_m3: float, seconds: float, mixing: float) -> Working:
    """The same from a flow through a booth for a time."""
    volumes = flow_m3_s * seconds / _above_zero(volume_m3, "volume", '--volume "190 m^3"')
    line = f"{flow_m3_s:g} m³/s × {seconds:g} s / {volume_m3:g} m³ = {volumes:.4g} volumes"
    return purge(volumes, mixing, (line,))


def purge_until(flow_m3_s: float, volume_m3: float, share: float, mixing: float) -> Working:
    """How long until a share would be left."""
    changes = air_changes(
        _above_zero(flow_m3_s, "flow", '--flow "19 m^3/s"'), _above_zero(volume_m3, "volume", '--volume "190 m^3"')
    )
    if not 0 < share <= 1:
        raise SumError(f"a share lies above 0 and at 1 or below, not at {share:g}; write for example --share 0.01")
    seconds = clearing_time_s(changes, share, _mixing(mixing))
    lines = (
        f"3600 × {flow_m3_s:g} m³/s / {volume_m3:g} m³ = {changes:.4g} air changes an hour",
        f"−3600 × {mixing:g} × ln({share:g}) / {changes:.4g} = {seconds:.4g} s",
    )
    sentence = (
        f"After {seconds:.0f} s, with a mixing factor of {mixing:g}, {100 * share:.3g} % of what was in the air would be left"
    )
    return Working("purge", PURGE_RULE, lines, seconds, "s", sentence, ESTIMATE)


def decay(first: float, last: float, unit: str, seconds: float) -> Working:
    """Air changes by the hour that a tracer's decay shows."""
    changes = air_changes_of_decay(first, last, seconds)
    if not changes > 0:
        raise SumError(
            f"from {first:g} to {last:g} {unit} in {seconds:g} s nothing decays; write the earlier, higher reading first"
        )
    line = f"3600 × ln({first:g} / {last:g}) / {seconds:g} s = {changes:.4g} an hour"
    sentence = f"The decay shows {changes:.3g} air changes an hour, as the air mixed where the tracer was read"
    return Working("decay", DECAY_RULE, (line,), changes, "1/h", sentence, TRACER)


def _mixing(factor: float) -> float:
    if not factor >= 1:
        raise SumError(
            f"a mixing factor is 1 for perfect mixing, more for any other, not {factor:g}; write for example --mixing 3"
        )
    return factor


def _above_zero(value: float, what: str, write: str) -> float:
    if not value > 0:
        raise SumError(f"the {what} must be above zero, not {value:g}; write for example {write}")
    return value
