"""Every call of the API in one table: its path, what may be asked, what is answered, and the function that answers.

The same table makes the routes, checks the questions and writes the OpenAPI description, so that they can't differ.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from starlette.exceptions import HTTPException

from booth.overview import booths_and_jobs, newest_of
from booth.reports.judged import judge_in
from booth.reports.record import build_record
from booth.store import Store
from booth.times import SECOND, format_time, parse_time
from booth.web.api import api_shapes as shapes
from booth.web.api.api_shapes import Schema
from booth.web.board import Board
from booth.web.desk.record_index import Query, Row
from booth.web.desk.shared import Desk

LONGEST = 200  # characters of a text that is looked for
MOST = 500  # vans on one page
LOOK_EVERY = 2 * SECOND


@dataclass(frozen=True)
class Asked:
    """One question: what is needed to answer it. `given` has every parameter of the call that was sent."""

    board: Board
    store: Store
    desk: Desk
    given: dict[str, Any]

    @property
    def as_of(self) -> int:
        return self.board.live.now() if self.board.live is not None else self.board.moment(self.store)


@dataclass(frozen=True)
class Parameter:
    name: str
    schema: Schema
    says: str
    place: str = "query"


@dataclass(frozen=True)
class Call:
    path: str
    name: str
    says: str
    answer: Schema
    function: Callable[[Asked], dict[str, Any]]
    parameters: tuple[Parameter, ...] = ()


def vehicles(asked: Asked) -> dict[str, Any]:
    given = dict(asked.given)
    offset, limit = given.pop("offset", 0), given.pop("limit", 100)
    moments = {key: parse_time(given.pop(name)) for key, name in (("start", "from"), ("end", "to")) if name in given}
    with asked.desk.memory.following(asked.store) as known:
        found = known.index.find(Query(**given, **moments))
    return {"total": len(found), "offset": offset, "vehicles": [_vehicle(row) for row in found[offset : offset + limit]]}


def _vehicle(row: Row) -> dict[str, Any]:
    """Without the people: who pulls a list needn't know who did what."""
    return {
        "vehicle": row.vehicle,
        "process": row.process,
        "opened": format_time(row.opened),
        "closed": None if row.closed is None else format_time(row.closed),
        "round": row.round,
        "verdict": row.verdict.value,
        "state": row.state,
        "booths": list(row.booths),
        "lots": list(row.lots),
    }


def record(asked: Asked) -> dict[str, Any]:
    """Outside of the memory's lock, which is everybody's: verifying the whole journal takes a while."""
    ledger = asked.desk.memory.lent(asked.store)
    return build_record(judge_in(ledger, asked.board.shop, asked.store, asked.given["vehicle"], asked.as_of))


def booths(asked: Asked) -> dict[str, Any]:
    return {"cautions": list(asked.board.shop.cautions), **_booths(asked)}


def _booths(asked: Asked) -> dict[str, Any]:
    """One look for everybody who asks within the same moment."""
    shop, store, as_of = asked.board.shop, asked.store, asked.as_of
    ledger = asked.desk.memory.lent(store)

    def look() -> dict[str, Any]:
        return {"at": format_time(as_of), **booths_and_jobs(shop, store, ledger, newest_of(shop, store, as_of), as_of)}

    return asked.desk.shelf.get(("api-booths", asked.desk.memory.read_to, as_of // LOOK_EVERY), look)


def booth(asked: Asked) -> dict[str, Any]:
    name = asked.given["booth"]
    if name not in asked.board.shop.booths:
        raise HTTPException(404, f"There is no booth {name!r}; there are: {', '.join(asked.board.shop.booths)}.")
    return {**_booths(asked)["booths"][name], "cautions": list(asked.board.shop.cautions)}


def alarms(asked: Asked) -> dict[str, Any]:
    with asked.desk.memory.following(asked.store) as known:
        standing = [{key: row[key] for key in shapes.ALARM["properties"]} for row in known.standing()]
    return {"at": format_time(asked.as_of), "alarms": standing, "cautions": list(asked.board.shop.cautions)}


def quarantine(asked: Asked) -> dict[str, Any]:
    counts = asked.store.quarantine.counts()
    recent = [
        {"arrived": format_time(one.arrived), **{key: getattr(one, key) for key in ("reader", "origin", "reason", "sentence")}}
        for one in asked.store.quarantine.recent(asked.given.get("limit", 20))
    ]
    return {"total": sum(counts.values()), "counts": counts, "recent": recent}


def journal(asked: Asked) -> dict[str, Any]:
    head = asked.store.journal.head()
    return {"entries": head.entries, "head": head.hash}


_SOUGHT = {"type": "string", "maxLength": LONGEST}
CALLS = (
    Call(
        "/api/v1/vehicles",
        "vehicles",
        "Vans that a job was opened for, the newest first. Texts match any part, large and small letters alike. "
        "A verdict is as issued at each step's end; what came to light since is in the van's record.",
        shapes.VEHICLES,
        vehicles,
        (
            Parameter("van", _SOUGHT, "Part of the van's number."),
            Parameter("lot", _SOUGHT, "Part of the number of a lot that went onto it."),
            Parameter("booth", _SOUGHT, "The id of a booth that it was in."),
            Parameter("verdict", shapes.VERDICT, "The verdict of its latest round, as issued."),
            Parameter("from", shapes.MOMENT, "Worked on at or after this moment (RFC 3339)."),
            Parameter("to", shapes.MOMENT, "Worked on before this moment."),
            Parameter("offset", {"type": "integer", "minimum": 0, "maximum": 10**6}, "How many to pass over; 0 if left out."),
            Parameter("limit", {"type": "integer", "minimum": 1, "maximum": MOST}, "At most so many; 100 if left out."),
        ),
    ),
    Call(
        "/api/v1/vehicles/{vehicle}",
        "record",
        "The paint record of one van, judged now; the whole journal is verified for it.",
        shapes.RECORD,
        record,
        (Parameter("vehicle", {"type": "string", "minLength": 1, "maxLength": LONGEST}, "The van's number.", "path"),),
    ),
    Call("/api/v1/booths", "booths", "Every booth with its newest readings, and every open job.", shapes.BOOTHS, booths),
    Call(
        "/api/v1/booths/{booth}",
        "booth",
        "One booth with its newest readings.",
        shapes.ONE_BOOTH,
        booth,
        (Parameter("booth", {"type": "string", "minLength": 1, "maxLength": LONGEST}, "The booth's id.", "path"),),
    ),
    Call("/api/v1/alarms", "alarms", "The alarms that stand.", shapes.ALARMS, alarms),
    Call(
        "/api/v1/quarantine",
        "quarantine",
        "What came in and couldn't be used: how much by reason, and the latest.",
        shapes.QUARANTINE,
        quarantine,
        (Parameter("limit", {"type": "integer", "minimum": 1, "maximum": 200}, "So many of the latest; 20 if left out."),),
    ),
    Call(
        "/api/v1/journal",
        "journal",
        "The journal's end: note it elsewhere, and a cut-off tail can be found.",
        shapes.JOURNAL,
        journal,
    ),
)
