"""The hand-over of a shift, on one page that is printed and signed."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from booth.times import HOUR
from booth.web.desk.handover_view import handover_view
from booth.web.desk.moments import MomentError, Moments
from booth.web.desk.shared import as_of, desk_of, moments_of
from booth.web.pages import Page
from booth.web.render import render

SHIFT_H = 12
LONGEST_H = 7 * 24


async def handover(request: Request) -> Response:
    given = await run_in_threadpool(_look, request, desk_of(request))
    return render(request, "handover.html", 422 if given["wrong"] else 200, **given)


def _look(request: Request, desk) -> dict:
    board, asked = request.app.state.board, request.query_params
    with board.store() as store:
        now = as_of(board, store)
        moments = moments_of(board, now)
        wrong = ""
        try:
            start, end = shift(asked, moments)
        except MomentError as problem:
            wrong, (start, end) = str(problem), shift({}, moments)
        view = handover_view(board.shop, store, desk.memory, start, end, now)
    return {"view": view, "moments": moments, "wrong": wrong, "hours": asked.get("shift", "")}


def shift(asked, moments: Moments) -> tuple[int, int]:
    """From and to as asked for: both moments, or the `shift`'s hours up to `to` or now. Raises MomentError."""
    end = moments.read(asked["to"]) if asked.get("to") else moments.now
    if asked.get("from"):
        start = moments.read(asked["from"])
    else:
        start = end - _hours(asked.get("shift") or str(SHIFT_H)) * HOUR
    if not start < end <= start + LONGEST_H * HOUR:
        raise MomentError(f"a shift ends after it begins, and is no longer than {LONGEST_H // 24} days; write another from or to")
    return start, end


def _hours(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 1 <= int(text[:4]) <= LONGEST_H):
        raise MomentError(f"shift {text!r} is not a number of hours; write for example 8")
    return int(text)


PAGES = (Page("/handover", "handover", handover, nav="Hand-over"),)
