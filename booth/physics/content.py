"""What a coating gives off: VOC with and without water and exempt solvents, by solids, hazardous pollutants, twelve months.

Sources: EPA Method 24 and EPA-450/3-84-019 (VOC less water and exempt), 40 CFR 63.3951 and 63.4551 (organic HAP by volume of
solids, over a compliance period of twelve months). Masses in kg, volumes in L: kg/L is 8.345 lb/US gal. What isn't known stays
None: a sum with an unknown in it isn't known, and says which.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass


class Unknown(ValueError):
    """A figure that can't be worked out because one that it needs isn't stated. The text names it."""


@dataclass(frozen=True)
class Content:
    """One litre of a coating as supplied or as mixed; None where its maker doesn't say. kg/L and L/L."""

    density: float | None = None
    volatile: float | None = None  # all that evaporates: VOC, water and exempt solvents
    water: float | None = None
    exempt: float | None = None
    water_volume: float | None = None
    exempt_volume: float | None = None
    solids_volume: float | None = None
    hap: float | None = None


def voc_of(content: Content) -> float:
    """VOC in kg/L of material: volatile matter less water less exempt solvents (Method 24: Ws - Ww - Wec)."""
    volatile, water, exempt = _need(content, "volatile", "water", "exempt")
    voc = volatile - water - exempt
    if voc < -1e-9:
        raise ValueError(
            f"water ({water:g} kg/L) and exempt solvents ({exempt:g} kg/L) are more than all volatile matter ({volatile:g} kg/L)"
        )
    return max(voc, 0.0)


def voc_less_water_and_exempt(content: Content) -> float:
    """VOC in kg by L of coating without its water and exempt solvents: (Ws - Ww - Wec)/(Vm - Vw - Vec)."""
    water, exempt = _need(content, "water_volume", "exempt_volume")
    left = 1 - water - exempt
    if not left > 0:
        raise ValueError(f"water and exempt solvents fill {water + exempt:g} of the volume: nothing is left to refer to")
    return voc_of(content) / left


def less_exempt(voc: float, exempt: float, exempt_density: float) -> float:
    """VOC by volume less exempt solvent: y/(1 - x/d), all three in one unit of mass by volume (Fla. Admin. Code 62-296.500)."""
    if not 0 <= exempt < exempt_density:
        raise ValueError(f"{exempt:g} of an exempt solvent of density {exempt_density:g} fills the volume or is negative")
    return voc / (1 - exempt / exempt_density)


def voc_by_solids(voc: float, solvent_density: float) -> float:
    """Mass of VOC by volume of solids, of VOC by volume of coating less water: C/(1 - C/D) (30 Tex. Admin. Code 115.423)."""
    return voc / solids_share(voc, solvent_density)


def solids_share(voc: float, solvent_density: float) -> float:
    """Volume of solids in a volume of coating less water: 1 - C/D. Measured solids are better."""
    if not 0 <= voc < solvent_density:
        raise ValueError(f"VOC of {voc:g} in a solvent of density {solvent_density:g} leaves no solids, or is negative")
    return 1 - voc / solvent_density


def blend(volumes: Sequence[float], values: Sequence[float]) -> float:
    """The volume-weighted mean Σ(V C)/ΣV of coating, hardener and thinner; water isn't a part, since both sides leave it out."""
    if len(volumes) != len(values) or not volumes:
        raise ValueError(f"{len(volumes)} volumes but {len(values)} values: give one for each")
    total = math.fsum(volumes)
    if not (total > 0 and all(one >= 0 for one in volumes)):
        raise ValueError("the volumes of a blend are not negative and not all nothing")
    return math.fsum(v * c for v, c in zip(volumes, values, strict=True)) / total


def hap_by_solids(hap_kg: Iterable[float], recovered_kg: float, solids_l: float) -> float:
    """(A + B + C - Rw)/Vs of 40 CFR 63.3951(e) to (g): HAP of coatings, thinners and cleaners less waste, by litre of solids."""
    if not solids_l > 0:
        raise ValueError(f"the volume of solids must be above zero, not {solids_l} L")
    return (math.fsum(hap_kg) - recovered_kg) / solids_l


Month = tuple[int, int]
"""Year and month, 1 to 12."""


@dataclass(frozen=True)
class Rolling:
    """The month and the eleven before it: the sum, or None with the months that aren't known."""

    month: Month
    total: float | None
    missing: tuple[Month, ...]


def rolling_twelve(months: Mapping[Month, float | None]) -> list[Rolling]:
    """Twelve-month sums for each month from the first to the last that is given. A month that isn't there isn't zero."""
    if not months:
        return []
    return [_rolling(months, month) for month in between(min(months), max(months))]


def between(first: Month, last: Month) -> list[Month]:
    """Every month from the first to the last."""
    return [(number // 12, number % 12 + 1) for number in range(_number(first), _number(last) + 1)]


def _rolling(months: Mapping[Month, float | None], month: Month) -> Rolling:
    wanted = [(number // 12, number % 12 + 1) for number in range(_number(month) - 11, _number(month) + 1)]
    missing = tuple(one for one in wanted if months.get(one) is None)
    return Rolling(month, None if missing else math.fsum(months[one] or 0.0 for one in wanted), missing)


def _number(month: Month) -> int:
    return month[0] * 12 + month[1] - 1


def _need(content: Content, *names: str) -> list[float]:
    found = {name: getattr(content, name) for name in names}
    unknown = [name.replace("_", " ") for name, value in found.items() if value is None]
    if unknown:
        raise Unknown(f"{' and '.join(unknown)} not stated")
    return list(found.values())
