"""The painter's page of one booth, its live part, and what a gloved hand can do on it."""

from __future__ import annotations

import json
from typing import Any
from uuid import NAMESPACE_URL, uuid5

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from booth.reports.judged import ledger_at
from booth.shop.events import EventError
from booth.times import SECOND, format_time
from booth.web.acts import MAY, act_together
from booth.web.board import Board
from booth.web.pages import ONLOOKERS, Page, Person
from booth.web.painter.snapshot import booths_shown
from booth.web.painter.view import act_value, view
from booth.web.painter.words import languages, texts_of, words
from booth.web.render import environment, render
from booth.web.screen import preferences

LONGEST_VAN = 200
FIRST_WAIT_S = 10.0
DISTANCES_M = range(2, 7)
NO_CALENDAR_US = 253_402_300_800 * SECOND  # the year 10000


async def booth_page(request: Request) -> Response:
    """The whole page as it is now; from then on the stream keeps its live part true."""
    booth = booth_of(request)
    screen = preferences(request)
    picked = request.query_params.get("van", "").strip()[:LONGEST_VAN]
    live = await run_in_threadpool(live_context, request.app.state.board, booth, screen.language, screen.units, picked)
    here = {one["vehicle"] for one in live["shown"]["vans"]}
    stranger = picked if picked and picked not in here else None
    board: Board = request.app.state.board
    distance = min(max(round(board.settings.viewing_distance), DISTANCES_M[0]), DISTANCES_M[-1])
    return render(
        request,
        "booth.html",
        **live,
        **may(request.state.person),
        booth_name=board.shop.booths[booth].name,
        distance=f"at-{distance}m",
        stream=f"/booth/{booth}/stream" + (f"?van={environment().filters['part'](picked)}" if picked else ""),
        post=f"/booth/{booth}",
        languages=[(one, texts_of(one)["page.own_name"]) for one in languages()],
        stranger=stranger,
        loads=await run_in_threadpool(_loads, board, booth, stranger, live["say"]) if stranger else (),
    )


async def booth_act(request: Request) -> Response:
    """One touch: the event that the button carries, into the journal."""
    booth = booth_of(request)
    form = await request.form()
    wanted = await run_in_threadpool(_events, request.app.state.board, booth, str(form.get("do", "")))
    await act_together(request, [event | {"booth": booth} for event in wanted])
    if "application/json" in request.headers.get("accept", ""):
        return Response(json.dumps({"kept": len(wanted)}), media_type="application/json")
    return RedirectResponse(f"/booth/{booth}", 303)


def booth_of(request: Request) -> str:
    booth = request.path_params["booth"]
    if booth not in booths_shown(request.app.state.board.shop):
        raise HTTPException(404, "There is no such booth.")
    return booth


def may(person: Person | None) -> dict[str, bool]:
    """Which buttons this person's page has."""
    role = person.role if person else None
    return {"may_act": role in MAY["step-start"], "may_acknowledge": role in MAY["acknowledge"]}


def live_context(board: Board, booth: str, language: str, units: str, picked: str) -> dict[str, Any]:
    """What the live part is made of; waits for the first look where the board has just started."""
    live = board.live
    if live is None or not live.wait_first(FIRST_WAIT_S) or booth not in live.snapshots:
        raise HTTPException(503, "The board has not seen the store yet. Try again in a moment.", {"Retry-After": "2"})
    say = words(language, units)
    shown = view(live.snapshots[booth], say, board.shop.site.zone, live.problem, live.outdated)
    return {"shown": shown, "say": say, "picked": picked}


def live_part(board: Board, booth: str, language: str, units: str, person: Person | None, picked: str) -> str:
    """The HTML of the live part, as the stream sends it. Nothing in it is anybody's own: screens alike may share it."""
    context = live_context(board, booth, language, units, picked)
    return environment().get_template("booth_live.html").render(**context, **may(person), path=f"/booth/{booth}")


def _events(board: Board, booth: str, sent: str) -> list[dict[str, Any]]:
    """The events of a button. Raises EventError for what no button of ours sends; the shape of each is checked with the act."""
    try:
        told = json.loads(sent)
    except ValueError:
        told = None
    if isinstance(told, list) and told and all(isinstance(one, dict) for one in told):
        return told
    if isinstance(told, dict) and isinstance(told.get("confirm"), str):
        return _confirmed(told)
    if isinstance(told, dict) and isinstance(told.get("not_a_coat"), str):
        return [_not_a_coat(board, booth, told)]
    raise EventError("this touch carries no event; open the page again")


def _confirmed(told: dict[str, Any]) -> list[dict[str, Any]]:
    """A coat that the guns told of, said by a person: its start, and its end if it has one."""
    moments = [("step-start", told.get("start")), ("step-end", told.get("end"))]
    return [
        {
            "id": str(uuid5(NAMESPACE_URL, f"confirm/{told.get('vehicle')}/{told['confirm']}/{kind}/{at}")),
            "event": kind,
            "vehicle": told.get("vehicle"),
            "step": told["confirm"],
            "time": _time(at),
        }
        for kind, at in moments
        if at is not None
    ]


def _time(at: object) -> str:
    """The moment of a button (microseconds UTC) as events have it. Raises EventError for what no calendar has."""
    if not isinstance(at, int) or isinstance(at, bool) or not 0 <= at < NO_CALENDAR_US:
        raise EventError(f"this touch carries {at!r} for a moment; open the page again")
    return format_time(at)


def _not_a_coat(board: Board, booth: str, told: dict[str, Any]) -> dict[str, Any]:
    """That a burst of the guns was no coat: names the entry that the logger made of it, or, where it asked, the time."""
    with board.store() as store:
        if told.get("asked"):
            first, last = told.get("start"), told.get("end")
            span = {"from": _time(first), "to": _time(board.moment(store) if last is None else last)}
            identity = str(uuid5(NAMESPACE_URL, f"not-a-coat/{booth}/{span}"))
            return {"id": identity, "event": "not-a-coat", **span}
        for entry in store.journal.entries(vehicle=str(told.get("vehicle")), kinds=["step-start"]):
            facts = (entry.channel, entry.effective, entry.body["step"], entry.body.get("booth"))
            if facts == ("inferred", told.get("start"), told["not_a_coat"], booth):
                identity = str(uuid5(NAMESPACE_URL, f"not-a-coat/{entry.id}"))
                return {"id": identity, "event": "not-a-coat", "corrects": entry.id}
    raise EventError("not-a-coat: the logger has not written this coat down yet; touch again in half a minute")


def _loads(board: Board, booth: str, vehicle: str, say: Any) -> list[tuple[str, str]]:
    """The two ways in which a van that was scanned can have come in, each with the complete list of what is in the booth then."""
    with board.store() as store:
        there = ledger_at(store, board.moment(store)).loaded(booth)
        mark = str(store.journal.head().entries)
    guns = board.shop.booths[booth].measuring("gun_flow")
    alone = act_value("load", mark, vans=[{"vehicle": vehicle, "guns": guns}])
    found = [(say("do.load_alone", vehicle=vehicle), alone)]
    if there:
        beside = act_value("load", mark, vans=[*there, {"vehicle": vehicle}])
        found.append((say("do.load_beside", vehicle=vehicle), beside))
    return found


PAGES = (
    Page("/booth/{booth}", "booth", booth_page, roles=ONLOOKERS),
    Page("/booth/{booth}", "booth-act", booth_act, ("POST",), body_limit=16 * 1024),
)
