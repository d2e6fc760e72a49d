"""A requirement: one limit on one step, with everything that the judge must know to decide it.

Requirements are derived from the files (booth.shop.promises); they carry no clock and no readings. `kind` chooses the rule;
`terms` is the part that only this kind of rule needs. Values are in the unit used inside for `quantity`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from booth.physics.pace import Pace
from booth.shop.measures import LIMITED

KINDS = (
    "done",
    "gate",
    "mode",
    *LIMITED,
    "pot_life",
    "induction",
    "lots",
    "calibration",
    "flash_minimum",
    "flash_maximum",
    "appearance",
    "purge_volumes",
    "bake_start",
    "heat_up",
    "dwell",
    "peak",
    "heating_rate",
    "over_bake",
    "cool_minimum",
    "cool_below",
    "wait",
    "check",
)
"""Every kind of requirement. Each has a rule in booth.judge."""

OutOfLimits = Literal["pause", "restart", "go_on", "not_stated"]


@dataclass(frozen=True)
class ClimateLimit:
    """A measure between two values, as a condition or a requirement."""

    measure: str
    low: float | None
    high: float | None
    allowance_k: float = 0.0  # a drying film is this much cooler than the probe beside it
    surface_from_air: bool = False  # the coating allows the air to stand in for the surface


@dataclass(frozen=True)
class ClimateTerms:
    limit: ClimateLimit
    modes: tuple[str, ...] | None  # None: in every mode
    grace_us: int
    coverage: float | None
    largest_gap_us: int | None


@dataclass(frozen=True)
class ModeTerms:
    modes: tuple[str, ...]
    grace_us: int


@dataclass(frozen=True)
class FlashTerms:
    """A minimum or a maximum time between two coats, per zone."""

    pace: Pace
    driven_by: str | None
    conditions: tuple[ClimateLimit, ...] = ()
    out_of_limits: OutOfLimits = "go_on"


@dataclass(frozen=True)
class PotTerms:
    pace: Pace
    driven_by: str | None


@dataclass(frozen=True)
class StartTerms:
    earliest_us: int | None
    latest_us: int | None


@dataclass(frozen=True)
class HeatUpTerms:
    to_c: float
    within_us: int
    substrates: tuple[str, ...] = ()  # of the process's zones: each needs a probe, or the coldest part may be unseen


@dataclass(frozen=True)
class DwellTerms:
    pace: Pace
    driven_by: str | None
    interruption: OutOfLimits
    below_c: float | None
    substrates: tuple[str, ...] = ()


@dataclass(frozen=True)
class PeakTerms:
    substrate: str


@dataclass(frozen=True)
class RateTerms:
    over_us: int
    substrates: tuple[str, ...] = ()


@dataclass(frozen=True)
class OverBakeTerms:
    at_c: float
    maximum_us: int
    substrates: tuple[str, ...] = ()


@dataclass(frozen=True)
class CheckTerms:
    """A check that must have passed before a moment; `value` is one that it recorded, with its kind."""

    check: str
    retest_after_repair: bool = False
    value: str | None = None


@dataclass(frozen=True)
class WaitTerms:
    """Work that must wait for a fixed time after the bake; judged only if its check was recorded after the bake."""

    check: str
    pace: Pace


@dataclass(frozen=True)
class LotTerms:
    coating: str
    components: tuple[str, ...] = ()  # a lot of each must be recorded


@dataclass(frozen=True)
class NoTerms:
    """Kinds whose limit says everything."""


Terms = (
    ClimateTerms
    | ModeTerms
    | FlashTerms
    | PotTerms
    | StartTerms
    | HeatUpTerms
    | DwellTerms
    | PeakTerms
    | RateTerms
    | OverBakeTerms
    | CheckTerms
    | WaitTerms
    | LotTerms
    | NoTerms
)


@dataclass(frozen=True)
class Requirement:
    """One limit on one step."""

    id: str  # "clear-1/dew_point_margin"
    kind: str
    step: str
    quantity: str
    source: str
    terms: Terms
    low: float | None = None
    high: float | None = None
    guarded: bool = False
    what_to_do: str | None = None
