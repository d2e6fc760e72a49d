"""One van's record: why it is as it is, its traces, its documents, and what people decide about it."""

from __future__ import annotations

from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from booth.documents import document, file_name
from booth.judge.facts import is_among
from booth.reports.judged import judge_vehicle
from booth.reports.record import build_record
from booth.reports.record_traces import build_traces
from booth.shop.events import EventError
from booth.web.acts import act
from booth.web.desk.moments import MomentError
from booth.web.desk.record_forms import FACTS, entry_choices, event_of
from booth.web.desk.record_view import page_of
from booth.web.desk.shared import Desk, as_of, desk_of, moments_of
from booth.web.desk.traces_data import COLUMNS, traces_json
from booth.web.pages import PAINTER, SUPERVISOR, Page
from booth.web.render import render
from booth.web.screen import preferences

FORMS = {
    "pdf": "application/pdf",
    "html": "text/html; charset=utf-8",
    "json": "application/json",
    "csv": "text/csv; charset=utf-8",
}
DONE = {
    "concession": "The concession is signed.",
    "correction": "The correction is in the journal; the findings below are judged with it.",
    "release": "The release is signed.",
    "reopen": "Another round is open.",
    "note": "The note is kept.",
}


async def record(request: Request) -> Response:
    return await _shown(request)


async def _shown(request: Request, status: int = 200, wrong: str = "", sent: dict | None = None) -> Response:
    given = await run_in_threadpool(_look, request, desk_of(request))
    return render(request, "record.html", status, wrong=wrong, sent=defaultdict(str, sent or {}), **given)


def _look(request: Request, desk: Desk) -> dict:
    board, vehicle = request.app.state.board, request.path_params["vehicle"]
    with board.store() as store:
        now = as_of(board, store)
        shown = desk.records.shown(board, store, vehicle, now)
    person, moments = request.state.person, moments_of(board, now)
    return page_of(shown) | {
        "vehicle": vehicle,
        "moments": moments,
        "entries": entry_choices(shown.entries, moments),
        "decides": person.role == SUPERVISOR,
        "writes": person.role in (SUPERVISOR, PAINTER),
        "sprayed_it": is_among(person.by, shown.sprayers),
        "facts": FACTS,
        "request_done": DONE.get(request.query_params.get("done", ""), ""),
    }


async def record_act(request: Request) -> Response:
    """A concession, correction, release, reopening or note; what is refused is said above the same page."""
    form = {key: str(value) for key, value in (await request.form()).items()}
    board = request.app.state.board
    try:
        moments = moments_of(board, await run_in_threadpool(board.now))
        await act(request, event_of(request.path_params["vehicle"], form, moments))
    except (EventError, MomentError) as problem:
        return await _shown(request, 422, str(problem), form)
    return RedirectResponse(f"/record/{quote(request.path_params['vehicle'], safe='')}?done={quote(form['event'])}#said", 303)


async def traces(request: Request) -> Response:
    """The readings of a stretch, as fine as the columns asked for."""
    asked = request.query_params
    start, end = (_microseconds(asked.get(name)) for name in ("from", "to"))
    columns = int(asked["columns"]) if asked.get("columns", "").isdecimal() and len(asked["columns"]) < 6 else COLUMNS
    board, desk, vehicle = request.app.state.board, desk_of(request), request.path_params["vehicle"]

    def look() -> dict:
        with board.store() as store:
            shown = desk.records.shown(board, store, vehicle, as_of(board, store))
        return traces_json(shown.traces, start, end, columns, preferences(request).units)

    return JSONResponse(await run_in_threadpool(look))


def _microseconds(text: str | None) -> int | None:
    """Of seconds of Unix time; a chart asks for fractions of them."""
    if not text:
        return None
    try:
        return round(float(text) * 1e6)
    except (ValueError, OverflowError):
        raise HTTPException(422, f"{text!r} is not a time; write seconds of Unix time, for example 1783940000") from None


async def record_document(request: Request) -> Response:
    vehicle, form = request.path_params["vehicle"], request.path_params["form"]
    if form not in FORMS:
        raise HTTPException(404, f"A record comes as {', '.join(FORMS)}.")
    made = (_document, request.app.state.board, vehicle, form)
    if form == "pdf":
        async with desk_of(request).pdfs:  # whoever waits holds none of the threads that all other pages are made in
            data = await run_in_threadpool(*made)
    else:
        data = await run_in_threadpool(*made)
    name = quote(f"{file_name(vehicle)}.{form}", safe="")
    return Response(data, media_type=FORMS[form], headers={"Content-Disposition": f"attachment; filename*=UTF-8''{name}"})


def _document(board, vehicle: str, form: str) -> bytes:
    """As `booth record` makes it, with the whole chain verified."""
    with board.store() as store:
        judged = judge_vehicle(board.shop, store, vehicle, as_of(board, store))
        made = build_record(judged)
        if form != "pdf":
            return document(judged, made, form)
        drawn = build_traces(judged)
    return _set_apart(made, drawn)


def _set_apart(made: dict, drawn) -> bytes:
    """The typesetter keeps what it once set for as long as its process lives: so it gets one of its own."""
    from booth.reports.pdf import render_pdf

    with ProcessPoolExecutor(1, get_context("spawn"), max_tasks_per_child=1) as pool:
        return pool.submit(render_pdf, made, drawn).result()


# A van's number may hold a slash, which no server tells from a path's own: so the longer paths come first.
PAGES = (
    Page("/record/{vehicle:path}/traces.json", "record-traces", traces),
    Page("/record/{vehicle:path}/document.{form}", "record-document", record_document),
    Page("/record/{vehicle:path}", "record", record),
    Page("/record/{vehicle:path}", "record-act", record_act, ("POST",), frozenset({SUPERVISOR, PAINTER}), body_limit=32 * 1024),
)
