"""Finding a record: by van, lot, booth, person, date, verdict; over years in one look at the index."""

from __future__ import annotations

from datetime import timedelta
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from booth.web.desk.moments import MomentError, Moments, read_day
from booth.web.desk.record_index import Query
from booth.web.desk.shared import as_of, desk_of, moments_of
from booth.web.pages import Page
from booth.web.render import render

A_PAGE = 25
FIELDS = ("van", "lot", "booth", "person", "verdict", "from", "to")


async def records(request: Request) -> Response:
    given = await run_in_threadpool(_look, request, desk_of(request))
    return render(request, "records.html", 422 if given["wrong"] else 200, **given)


def _look(request: Request, desk) -> dict:
    board = request.app.state.board
    asked = {name: request.query_params.get(name, "").strip()[:200] for name in FIELDS}
    wrong = ""
    with board.store() as store:
        moments = moments_of(board, as_of(board, store))
        try:
            query = query_of(asked, moments)
        except MomentError as problem:
            wrong, query = str(problem), Query()
        with desk.memory.following(store) as known:
            total = len(known.index.rows())
            found = known.index.find(query)
    pages = max(1, -(-len(found) // A_PAGE))
    page = _number(request.query_params.get("page"), pages)
    link = {name: value for name, value in asked.items() if value}
    return {
        "asked": asked,
        "wrong": wrong,
        "rows": found[(page - 1) * A_PAGE : page * A_PAGE],
        "found": len(found),
        "total": total,
        "page": page,
        "pages": pages,
        "link": lambda number: "?" + urlencode(link | {"page": number}),
        "moments": moments,
    }


def query_of(asked: dict[str, str], moments: Moments) -> Query:
    """What was asked for; a day counts from its midnight to the next in the site's zone. Raises MomentError."""
    start = moments.midnight(read_day(asked["from"])) if asked["from"] else None
    end = moments.midnight(read_day(asked["to"]) + timedelta(days=1)) if asked["to"] else None
    if start is not None and end is not None and end <= start:
        raise MomentError("the last day is before the first; write them the other way round")
    return Query(asked["van"], asked["lot"], asked["booth"], asked["person"], asked["verdict"], start, end)


def _number(text: str | None, most: int) -> int:
    return min(int(text), most) if text and text.isascii() and text.isdigit() and len(text) < 9 and int(text) else 1


PAGES = (Page("/records", "records", records, nav="Records"),)
