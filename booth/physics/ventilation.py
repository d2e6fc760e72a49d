"""How much air has gone through a booth, in volumes of the booth.

What a flow instrument proves is "flow recorded equals 5.2 volumes", not that the air is clean: dilution follows the law
below only as far as air mixes, and a mixing factor is a judgement, not a measurement.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from booth.physics.elementwise import Values, elementwise
from booth.physics.lines import join_in_span


class Volumes(NamedTuple):
    """Booth volumes exchanged, and the seconds of the span for which the flow isn't known."""

    volumes: float
    missing_s: float


@elementwise
def air_changes(volume_flow_m3_s: Values, volume_m3: Values) -> Values:
    """Air changes per hour, 3600 Q / V, at a steady flow (definition; ACGIH Industrial Ventilation)."""
    return 3600 * volume_flow_m3_s / volume_m3


def volumes_exchanged(
    times_us: npt.ArrayLike,
    flow_m3_s: npt.ArrayLike,
    volume_m3: float,
    max_gap_us: int,
    *,
    start_us: int | None = None,
    end_us: int | None = None,
) -> Volumes:
    """∫ Q dt / V over [start, end), the flow in straight lines between readings; nothing is counted across gaps.

    Reversed flow counts against: it doesn't bring clean air. ValueError unless the volume is above zero.
    """
    if not volume_m3 > 0:
        raise ValueError(f"the booth's volume must be above zero, not {volume_m3} m³")
    lines, missing = join_in_span(times_us, flow_m3_s, max_gap_us, start_us, end_us)
    return Volumes(float(np.sum(lines.seconds * (lines.first + lines.last) / 2)) / volume_m3, missing)


@elementwise
def decay_fraction(volumes: Values, mixing_factor: Values) -> Any:
    """Share of a contaminant left after so many volumes of clean air, exp(-n / K), with no source and no deposit.

    The dilution law of ACGIH Industrial Ventilation and of CDC (2003), appendix B, table B.1. The mixing factor K is 1
    for perfect mixing, which CDC's table assumes, and up to 10 for poor mixing; NaN below 1 (nothing mixes better).
    """
    return np.exp(-volumes / np.where(mixing_factor >= 1, mixing_factor, np.nan))
