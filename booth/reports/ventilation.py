"""The ventilation log of one booth as data, out of which every document is rendered (docs/ventilation.md has its keys).

It computes and shows; it never says that air was good or that anybody was safe. Silence is shown as silence.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import booth
from booth.judge.care import CareBook, due
from booth.reports import ventilation_papers as papers
from booth.reports.judged import ledger_at
from booth.reports.ventilation_air import Room, gaps, of_period
from booth.reports.ventilation_bakes import bakes, trips
from booth.reports.ventilation_balance import balance, sides
from booth.reports.ventilation_filters import filters
from booth.reports.ventilation_periods import periods
from booth.shop.shop import Shop, load_shop
from booth.store import Store
from booth.times import DAY, duration_text, format_time
from booth.units import show

LONGEST_US = 100 * DAY


class NoSuchLog(LookupError):
    """A log that can't be made: the booth doesn't exist or doesn't spray, or the period is none."""


def build_ventilation(shop: Shop, store: Store, booth_id: str, start: int, end: int, as_of: int) -> dict[str, Any]:
    """The log of [start, end), cut at `as_of`. Raises NoSuchLog."""
    own, then = _shop_at(shop, store, end)
    _possible(own, booth_id, start, end, as_of)
    end = min(end, as_of)
    ledger, book = ledger_at(store, as_of), CareBook(store.journal.entries())
    room = Room(booth_id, own.booths[booth_id], store.readings, ledger)
    rows = [_row(room, book, one) for one in periods(start, end, own.site.zone, own.site.shifts)]
    verification = store.journal.verify()
    clearance = room.booth.clearance
    grid = papers.grid_of(book.grid(booth_id, "spray", end))
    silent = sorted(gaps(room, start, end), key=lambda one: (one["from"], one["point"]))
    told = {
        "booth": booth_id,
        "name": room.booth.name,
        "volume_m3": room.booth.volume,
        "permit": room.booth.ventilation.permit if room.booth.ventilation is not None else None,
        "site": {"name": own.site.name, "invented": own.site.invented, "time_zone": own.site.time_zone},
        "from": format_time(start),
        "to": format_time(end),
        "issued": format_time(as_of),
        "periods": rows,
        "balance": sides(room),
        "bakes": bakes(room, start, end),
        "clearance": clearance and {"seconds": clearance.time / 1e6, "smoke_test": clearance.smoke_test.isoformat()},
        "grid": grid,
        "filters": filters(room, book, end),
        "interlock": trips(room, start, end),
        "alarms": papers.alarms(store, booth_id, start, end, as_of),
        "gaps": silent,
        "instruments": list(papers.instruments(room, start, end, silent, own.site.zone)),
        "care": papers.care(book, booth_id, start, end),
        "due": papers.due_rows(due(own, book, as_of), booth_id, as_of),
        "reviews": papers.reviews(book, booth_id, start, end, as_of),
        "months": papers.months(room, store, end, own.site.zone),
        "config": {"sha256": own.sha256, "in_force_then": then},
        "journal": {"head": verification.head, "entries": verification.entries, "verified": verification.ok},
        "cautions": list(own.cautions),
        "software": {"name": "booth-logger", "version": booth.__version__},
    }
    return told | {"summary": list(_summary(told))}


def log_room(shop: Shop, store: Store, booth_id: str, end: int, as_of: int) -> Room:
    """The booth as it was configured when the period ended, and what is known of its instruments at the moment of the log."""
    return Room(booth_id, _shop_at(shop, store, end)[0].booths[booth_id], store.readings, ledger_at(store, as_of))


def _possible(shop: Shop, booth_id: str, start: int, end: int, as_of: int) -> None:
    spraying = [name for name, one in shop.booths.items() if one.mode_point is not None]
    if booth_id not in spraying:
        raise NoSuchLog(f"{booth_id!r} is not a booth that tells its mode; write one of {', '.join(spraying)}")
    if start >= end:
        raise NoSuchLog("--from must be before --to; write the earlier of the two as --from")
    if start >= as_of:
        raise NoSuchLog(f"the period begins after {format_time(as_of)}, the moment of the log; write an earlier --from")
    if end - start > LONGEST_US:
        raise NoSuchLog("a log covers 100 days at most, since it reads every reading; write a shorter period")


def _shop_at(current: Shop, store: Store, at: int) -> tuple[Shop, bool]:
    """The configuration in force at a moment, and whether it is the one of then: an empty journal has none but today's."""
    entries = list(store.journal.entries(kinds=["config"]))
    before = [entry for entry in entries if entry.effective <= at] or entries[:1]
    if not before:
        return current, False
    newest = max(before, key=lambda entry: (entry.effective, entry.seq))
    return (current if newest.body["sha256"] == current.sha256 else load_shop(newest.body["files"])), True


def _row(room: Room, book: CareBook, period) -> dict[str, Any]:
    told = of_period(room, period.start, period.end)
    grid = papers.grid_of(book.grid(room.id, "spray", period.end))
    velocity = told["velocity"]
    tied = None
    if grid is not None and grid["factor"] is not None and velocity is not None and velocity["mean"] is not None:
        tied = {"mean": velocity["mean"] * grid["factor"], "lowest": velocity["lowest"] * grid["lowest_factor"]}
        tied |= {"measured": grid["measured"], "state": grid["state"], "factor": grid["factor"]}
    head = {
        "day": period.day.isoformat(),
        "shift": period.shift,
        "from": format_time(period.start),
        "to": format_time(period.end),
    }
    return head | told | {"grid_velocity": tied, "balance": balance(room, period.start, period.end)}


def total_s(told: dict[str, Any], mode: str) -> float:
    """Seconds of a mode over all periods."""
    return sum(row["modes_s"].get(mode, 0.0) for row in told["periods"])


def _time(seconds: float) -> str:
    return duration_text(round(seconds * 1e6))


def _summary(told: dict[str, Any]) -> Iterator[str]:
    """The sentences that head every document."""
    sprayed, unknown = total_s(told, "spray"), sum(row["mode_unknown_s"] for row in told["periods"])
    bake, purge = (_time(total_s(told, mode)) for mode in ("bake", "purge"))
    yield f"The booth was in mode spray for {_time(sprayed)}, in bake for {bake} and in purge for {purge}."
    if unknown >= 1:
        yield f"For {_time(unknown)} nothing says what mode it was in: it counts neither as used nor as idle."
    yield from _below(told)
    yield _balance(told)
    missing = [one for one in told["bakes"] if one["volumes"] is None]
    if told["bakes"]:
        flows = [f"{one['volumes']:.1f}" for one in told["bakes"] if one["volumes"] is not None]
        if flows:
            yield f"Flow recorded before the bakes equals {', '.join(flows)} volumes of the booth."
        if missing:
            yield f"No flow was recorded in a purge before {len(missing)} of {len(told['bakes'])} bakes."
    trips_ = len(told["interlock"]["open"])
    if trips_:
        yield f"The fan's interlock opened {trips_} time{'s' if trips_ != 1 else ''}."
    if told["grid"] is None:
        yield "No measured grid is on record: the fixed probe's readings are an index and stand for themselves alone."
    over = [one["sentence"] for one in told["due"] if one["over"]]
    if over:
        yield f"Due, or never recorded: {len(over)} of {len(told['due'])} kinds of care."


def _balance(told: dict[str, Any]) -> str:
    """The mean of a period's balance weighs by the time in which it was known."""
    if told["balance"]["why"] is not None:
        return f"No make-up balance can be made: {told['balance']['why']}."
    rows = [row["balance"] for row in told["periods"] if row["balance"]["known_s"]]
    if not rows:
        return "No make-up balance can be made: intake and exhaust flow were never both read while the booth sprayed."
    seconds = sum(one["known_s"] for one in rows)
    intake, exhaust = (sum(one[side] * one["known_s"] for one in rows) / seconds for side in ("intake", "exhaust"))
    spread = rows[0]["difference_uncertainty"]
    difference = f"{intake - exhaust:+.2f}".replace("-", "−") + (f" ± {spread:.2f}" if spread is not None else "")
    sentence = f"While spraying, {show(intake, 'flow')} came in and {show(exhaust, 'flow')} went out, by volume {difference} m³/s"
    if spread is not None and abs(intake - exhaust) <= spread:
        return f"{sentence}, which the instruments cannot tell from a balance."
    return f"{sentence}."


def _below(told: dict[str, Any]) -> Iterator[str]:
    rows = [row["velocity"] for row in told["periods"] if row["velocity"] is not None]
    known, below = sum(one["known_s"] for one in rows), sum(one["beyond_s"] or 0 for one in rows)
    silent = sum(one["unknown_s"] for one in rows)
    minimum = next((one["minimum"] for one in rows if one["minimum"] is not None), None)
    if minimum is None:
        yield "The site states no minimum air velocity while spraying."
    elif not known and silent >= 1:
        yield "Whether the air velocity was below the site's minimum while spraying isn't known: nobody read it then."
    elif known:
        share = 100 * below / known
        yield (
            f"While spraying, the fixed probe read below the site's minimum of {show(minimum, 'velocity')} for {_time(below)}, "
            f"{share:.1f} % of the {_time(known)} in which it was read."
        )
    if silent >= 1:
        yield f"For {_time(silent)} of spraying there is no air velocity on record."
