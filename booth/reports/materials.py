"""Litres, VOC and organic HAP by product, booth and month, and over twelve months: figures for a permit, out of mixes and files.

What isn't known is missing and never zero: a sum with something missing in it is null; beside it stands what is known, and what
it lacks. It tells what was used; nobody's exposure follows from it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import Any
from zoneinfo import ZoneInfo

import booth
from booth.judge.materials import BOUGHT, Use, uses
from booth.physics import content as physics
from booth.physics.content import Month, Rolling, Unknown
from booth.shop.content import Content
from booth.shop.shop import Shop
from booth.store import Store
from booth.times import format_time, to_datetime

WATER_KG_L = 0.9982
"""Water at 20 °C (CRC Handbook of Chemistry and Physics)."""

FIGURES = ("voc_kg", "hap_kg", "solids_l")
PER_LITRE = {"voc_kg": "voc", "hap_kg": "hap", "solids_l": "solids"}


def build_materials(shop: Shop, store: Store, start: int, end: int, as_of: int) -> dict[str, Any]:
    """What was used in [start, end), by months of the site, with twelve-month sums that reach back before it."""
    zone = shop.site.zone
    entries = [entry for entry in store.journal.entries() if entry.effective <= as_of]
    known = [one for one in uses(entries) if one.time < end]
    recorded = {_month(entry.effective, zone) for entry in entries}
    sprayed = [one for one in known if one.use != BOUGHT]
    own = [one for one in sprayed if one.time >= start]
    verification = store.journal.verify()
    return {
        "site": {"name": shop.site.name, "invented": shop.site.invented, "time_zone": shop.site.time_zone},
        "from": format_time(start),
        "to": format_time(end),
        "issued": format_time(as_of),
        "products": [_group(shop, key, group) for key, group in _grouped(own, zone)],
        "months": _months(shop, sprayed, recorded, _month(start, zone), _month(end - 1, zone), zone),
        "coatings": {name: _coating(one.content) for name, one in sorted(shop.coatings.items())},
        "purchases": [_purchase(one) for one in known if one.use == BOUGHT and one.time >= start],
        "config": {"sha256": shop.sha256},
        "journal": {"head": verification.head, "entries": verification.entries, "verified": verification.ok},
        "cautions": list(shop.cautions),
        "software": {"name": "booth-logger", "version": booth.__version__},
    }


def _month(us: int, zone: ZoneInfo) -> Month:
    moment = to_datetime(us, zone)
    return moment.year, moment.month


def month_text(month: Month) -> str:
    return f"{month[0]}-{month[1]:02d}"


def _grouped(own: Iterable[Use], zone: ZoneInfo) -> list[tuple[tuple, list[Use]]]:
    groups: dict[tuple, list[Use]] = defaultdict(list)
    for one in own:
        groups[_month(one.time, zone), one.booth or "", one.product, one.use].append(one)
    return sorted(groups.items())


def _group(shop: Shop, key: tuple, group: list[Use]) -> dict[str, Any]:
    month, room, product, use = key
    lots = sorted({f"{component} {lot}" for one in group for component, lot in one.lots.items()})
    head = {"month": month_text(month), "booth": room or None, "product": product, "use": use}
    return head | {"entries": len(group), "lots": lots} | totals(shop, group)


def totals(shop: Shop, group: Iterable[Use]) -> dict[str, Any]:
    """Litres, VOC, HAP and solids of some uses; `known` has what could be added up where the whole is null."""
    sums: dict[str, float] = dict.fromkeys(("litres", *FIGURES), 0.0)
    lacking: dict[str, set[str]] = defaultdict(set)
    for one in group:
        if one.litres is None:
            for figure in sums:
                lacking[figure].add(f"the volume of {one.mix or one.product}")
            continue
        sums["litres"] += one.litres
        for figure in FIGURES:
            share = _per_litre(shop, one, figure)
            if share is None:
                lacking[figure].add(f"{PER_LITRE[figure]} of {one.product}")
            else:
                sums[figure] += share * one.litres
    whole = {figure: None if lacking[figure] else value for figure, value in sums.items()}
    return whole | {"known": sums, "missing": sorted(set().union(*lacking.values()))}


def _per_litre(shop: Shop, one: Use, figure: str) -> float | None:
    coating = shop.coatings.get(one.coating or "")
    return None if coating is None or coating.content is None else getattr(coating.content, PER_LITRE[figure])


def _months(
    shop: Shop, sprayed: list[Use], recorded: set[Month], first: Month, last: Month, zone: ZoneInfo
) -> list[dict[str, Any]]:
    """A month of which the journal says nothing at all isn't a month in which nothing was used."""
    by_month = {month: totals(shop, [one for one in sprayed if _month(one.time, zone) == month]) for month in recorded}
    rolling = {
        figure: {one.month: one for one in physics.rolling_twelve({month: made[figure] for month, made in by_month.items()})}
        for figure in ("litres", *FIGURES)
    }
    return [_month_row(month, by_month.get(month, SILENT), rolling) for month in physics.between(first, last)]


NOTHING = dict.fromkeys(("litres", *FIGURES))
SILENT = NOTHING | {"known": dict.fromkeys(NOTHING, 0.0), "missing": ["the journal has no entry of this month"]}


def _month_row(month: Month, made: dict[str, Any], rolling: dict[str, dict[Month, Rolling]]) -> dict[str, Any]:
    sums = {figure: by_month.get(month, Rolling(month, None, ())) for figure, by_month in rolling.items()}
    twelve: dict[str, Any] = {figure: one.total for figure, one in sums.items()}
    twelve["hap_by_solids"] = _ratio(twelve["hap_kg"], twelve["solids_l"])
    twelve["missing"] = sorted({month_text(lacking) for one in sums.values() for lacking in one.missing})
    by_solids = _ratio(made["hap_kg"], made["solids_l"])
    return {"month": month_text(month)} | made | {"hap_by_solids": by_solids, "twelve_months": twelve}


def _ratio(hap_kg: float | None, solids_l: float | None) -> float | None:
    """Kilograms of HAP by litre of solids (40 CFR 63.3951); None where either isn't known, or nothing was sprayed."""
    return None if hap_kg is None or not solids_l else physics.hap_by_solids([hap_kg], 0, solids_l)


def _coating(content: Content | None) -> dict[str, Any]:
    """A coating's figures as its file states them, and those that follow; what doesn't follow says why."""
    if content is None:
        return {"source": None, "missing": ["content: the coating's file has no table [content]"]}
    stated = {name: getattr(content, name) for name in ("density", "voc", "water", "exempt", "solids", "hap")}
    missing = [f"{name} not stated" for name, value in stated.items() if value is None]
    told = {"source": content.source, "missing": missing, **stated, "voc_less_water": None, "voc_by_solids": None}
    try:
        told["voc_less_water"] = physics.voc_less_water_and_exempt(as_physics(content))
    except Unknown:
        pass  # `missing` says what it lacks
    if content.voc is not None and content.solids:
        told["voc_by_solids"] = content.voc / content.solids
    return told


def as_physics(content: Content) -> physics.Content:
    """The file's figures in the terms of EPA Method 24."""
    parts = (content.voc, content.water, content.exempt)
    exempt_volume = 0.0 if content.exempt == 0 else None
    if content.exempt and content.exempt_density:
        exempt_volume = content.exempt / content.exempt_density
    return physics.Content(
        density=content.density,
        volatile=None if None in parts else sum(one or 0.0 for one in parts),
        water=content.water,
        exempt=content.exempt,
        water_volume=None if content.water is None else content.water / WATER_KG_L,
        exempt_volume=exempt_volume,
        solids_volume=content.solids,
        hap=content.hap,
    )


def _purchase(one: Use) -> dict[str, Any]:
    return {"time": format_time(one.time), "product": one.product, "litres": one.litres, "lots": dict(one.lots)}
