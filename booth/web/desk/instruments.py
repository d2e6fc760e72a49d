"""Instruments: last heard, health, calibration; the logger's own state; and the form for a calibration."""

from __future__ import annotations

from datetime import timedelta

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from booth.shop.events import EventError
from booth.times import format_time
from booth.web.acts import act
from booth.web.desk.instruments_view import instrument_rows, machine
from booth.web.desk.moments import MomentError, Moments, read_day
from booth.web.desk.shared import Desk, as_of, desk_of, moments_of
from booth.web.pages import MAINTENANCE, SUPERVISOR, Page
from booth.web.render import render
from booth.web.screen import preferences

USUAL_DAYS = 365


async def instruments(request: Request) -> Response:
    return await _shown(request)


async def calibrate(request: Request) -> Response:
    """A calibration, as found and as left."""
    form = {name: str(value).strip() for name, value in (await request.form()).items()}
    board = request.app.state.board
    try:
        moments = moments_of(board, await run_in_threadpool(board.now))
        await act(request, event_of(form, moments))
    except (EventError, MomentError) as problem:
        return await _shown(request, 422, str(problem), form)
    return RedirectResponse("/instruments?done=1", 303)


def event_of(form: dict[str, str], moments: Moments) -> dict:
    """The event of the form; a calibration is in force to the end of its last day. Raises MomentError."""
    booth, _, point = form.get("point", "").partition("/")
    end = moments.midnight(read_day(form.get("until", "")) + timedelta(days=1)) - 1_000_000
    event = {"event": "calibration", "id": form.get("id") or None, "booth": booth, "point": point}
    event |= {"result": form.get("result", ""), "valid_until": format_time(end, moments.zone)}
    return event | {name: form[name] for name in ("as_found", "as_left") if form.get(name)}


async def _shown(request: Request, status: int = 200, wrong: str = "", sent: dict | None = None) -> Response:
    given = await run_in_threadpool(_look, request, desk_of(request))
    empty = dict.fromkeys(("point", "result", "as_found", "as_left", "until"), "")
    return render(request, "instruments.html", status, wrong=wrong, sent=empty | (sent or {}), **given)


def _look(request: Request, desk: Desk) -> dict:
    board, units = request.app.state.board, preferences(request).units
    with board.store() as store:
        now = as_of(board, store)
        with desk.memory.following(store) as known:
            ledger = known.lent(store)
            started = max((entry.recorded for entry in known.entries["logger-start"]), default=0)
            stopped = max((entry.recorded for entry in known.entries["logger-stop"]), default=0)
        rows = instrument_rows(board.shop, store, ledger, now, units)
        newest = max((row["heard"] for row in rows if row["heard"] is not None), default=None)
        own = machine(board.shop, store, board.directory, newest, stopped if stopped > started else None, now)
    moments = moments_of(board, now)
    return {
        "rows": rows,
        "own": own,
        "moments": moments,
        "may_calibrate": request.state.person.role in (MAINTENANCE, SUPERVISOR),
        "usual": moments.today() + timedelta(days=USUAL_DAYS),
        "done": "The calibration is in the journal." if request.query_params.get("done") else "",
    }


CARERS = frozenset({MAINTENANCE, SUPERVISOR})

PAGES = (
    Page("/instruments", "instruments", instruments, nav="Instruments"),
    Page("/instruments", "instruments-calibrate", calibrate, ("POST",), CARERS, body_limit=16 * 1024),
)
