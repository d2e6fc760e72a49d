"""How far the mirror is behind, for `booth status`. Read from the store and the mirror's own file; it needs no running mirror."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from typing import Any

from booth.mirror.arrivals import Arrivals
from booth.mirror.lines import KINDS
from booth.mirror.memory import Memory
from booth.mirror.mirror import BEGINNING
from booth.shop.shop import Shop
from booth.store import StoreError
from booth.times import SECOND, format_time

SHOWN = 5


def status(shop: Shop, directory: Path, as_of: int) -> dict[str, Any] | None:
    """The mirror's state as of a moment (microseconds UTC), JSON-safe; None if the site has no mirror. `seconds_behind` is the
    age of the oldest reading or finding that the server doesn't have yet.

    Raises StoreError when the store can't be read.
    """
    if shop.site.mirror is None:
        return None
    try:
        memory = Memory(directory)
    except StoreError:  # it never ran
        return _shown(shop.site.mirror.url, directory, as_of, None)
    with closing(memory):
        return _shown(shop.site.mirror.url, directory, as_of, memory)


def _shown(url: str, directory: Path, as_of: int, memory: Memory | None) -> dict[str, Any]:
    state = memory.state() if memory else None
    readings, oldest = 0, []
    with closing(Arrivals(directory)) as arrivals:
        for point in arrivals.points():
            count, first = arrivals.waiting(point, memory.places.get(point, BEGINNING) if memory else BEGINNING)
            readings += count
            oldest += [] if first is None else [first]
        entries = list(arrivals.store.journal.entries(after=state.entries if state else 0, kinds=KINDS))
        oldest += [entry.recorded for entry in entries[:1]]
    count, recent = memory.aside(SHOWN) if memory else (0, [])
    return {
        "url": url,
        "readings_behind": readings,
        "entries_behind": len(entries),
        "seconds_behind": max(0.0, (as_of - min(oldest)) / SECOND) if oldest else 0.0,
        "last_sent": _time(state.sent) if state else None,
        "problem": state.problem if state else None,
        "problem_since": _time(state.problem_since) if state else None,
        "set_aside": {
            "count": count,
            "recent": [{"line": line, "reason": reason, "time": format_time(time)} for line, reason, time in recent],
        },
        "too_old": state.too_old if state else 0,
    }


def _time(us: int | None) -> str | None:
    return None if us is None else format_time(us)
