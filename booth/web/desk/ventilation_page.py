"""A booth's ventilation log by day and week: when it was used, what its air did then, and where nothing is known."""

from __future__ import annotations

from datetime import date, timedelta
from urllib.parse import quote

from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from booth.reports.svg import XMLNS
from booth.reports.ventilation_air import Room
from booth.shop.events import EventError
from booth.times import HOUR, MINUTE, SECOND, duration_text, format_time, parse_time
from booth.units import show, show_us
from booth.web.acts import act
from booth.web.desk.day_log import DayLog, day_log
from booth.web.desk.moments import MomentError, Moments, read_day
from booth.web.desk.shared import Desk, as_of, desk_of, moments_of
from booth.web.desk.strip import key, strip
from booth.web.pages import EHS, SUPERVISOR, Page
from booth.web.render import render
from booth.web.screen import preferences

A_WEEK = 7
LONGEST = 31
UNKNOWN = "not known"


async def ventilation(request: Request) -> Response:
    """Straight to the first booth that has a mode; the others are a link away."""
    booths = [id for id, booth in request.app.state.board.shop.booths.items() if booth.mode_point]
    if not booths:
        raise HTTPException(404, "No booth of this shop sprays or bakes.")
    return RedirectResponse(f"/ventilation/{booths[0]}", 303)


async def ventilation_log(request: Request) -> Response:
    return await _shown(request)


async def sign(request: Request) -> Response:
    """EHS has looked at these days."""
    form = {name: str(value) for name, value in (await request.form()).items()}
    booth = request.path_params["booth"]
    event = {"event": "review", "booth": booth} | {name: form.get(name, "") for name in ("from", "to", "text")}
    try:
        await act(request, event | {"id": form.get("id") or None})
    except EventError as problem:
        return await _shown(request, 422, str(problem))
    days = "&".join(f"{name}={quote(form.get(name + '-day', ''))}" for name in ("from", "to"))
    return RedirectResponse(f"/ventilation/{quote(booth, safe='')}?{days}&done=1#reviews", 303)


async def _shown(request: Request, status: int = 200, wrong: str = "") -> Response:
    given = await run_in_threadpool(_look, request, desk_of(request))
    wrong = wrong or given.pop("wrong")
    return render(request, "ventilation.html", 422 if wrong else status, **given | {"wrong": wrong})


def _look(request: Request, desk: Desk) -> dict:
    board, booth_id, units = request.app.state.board, request.path_params["booth"], preferences(request).units
    booth = board.shop.booths.get(booth_id)
    if booth is None or booth.mode_point is None:
        raise HTTPException(404, "There is no booth of that name that sprays or bakes.")
    wrong = ""
    with board.store() as store:
        now = as_of(board, store)
        moments = moments_of(board, now)
        try:
            first, last = days_asked(request.query_params, moments)
        except MomentError as problem:
            wrong, (first, last) = str(problem), days_asked({}, moments)
        days = [first + timedelta(days=count) for count in range((last - first).days + 1)]
        room = Room(booth_id, booth, store.readings, desk.memory.lent(store))
        logs = [log_of_day(desk, room, day, moments) for day in days if moments.midnight(day) < now]
        with desk.memory.following(store) as known:
            reviews = [_review(entry) for entry in known.entries["review"] if entry.body.get("booth") == booth_id]
    start, end = moments.midnight(first), min(moments.midnight(last + timedelta(days=1)), now)
    return {
        "booth_id": booth_id,
        "booth": booth,
        "booths": {id: one for id, one in board.shop.booths.items() if one.mode_point},
        "days": [_day(log, moments, units, number) for number, log in enumerate(logs)],
        "first": first,
        "last": last,
        "links": _links(booth_id, first, last),
        "period": (format_time(start), format_time(end)),
        "reviews": [one for one in reviews if one["from"] < format_time(end) and one["to"] > format_time(start)],
        "least": _words(room.limit("air_velocity")[0], "velocity", units),
        "key": [(Markup(_inline(drawn)), words) for drawn, words in key("key")],
        "may_sign": request.state.person.role in (EHS, SUPERVISOR),
        "done": "The review is signed." if request.query_params.get("done") else "",
        "moments": moments,
        "wrong": wrong,
    }


def days_asked(asked, moments: Moments) -> tuple[date, date]:
    """The days from and to, both included; the last week where nothing is asked for. Raises MomentError."""
    last = read_day(asked["to"]) if asked.get("to") else read_day(asked["from"]) if asked.get("from") else moments.today()
    first = read_day(asked["from"]) if asked.get("from") else last - timedelta(days=A_WEEK - 1)
    if not 0 <= (last - first).days < LONGEST:
        raise MomentError(f"from {first} to {last} is not between one day and {LONGEST}; write another from or to")
    return first, last


def log_of_day(desk: Desk, room: Room, day: date, moments: Moments) -> DayLog:
    """The log of a day that has begun, kept for a while."""
    start, midnight = moments.midnight(day), moments.midnight(day + timedelta(days=1))
    # A fault or a calibration tells at once; readings that come late tell of a day that is over within the hour.
    kept_for = HOUR if midnight <= moments.now else MINUTE
    key = (room.id, day, desk.memory.health_at, kept_for, moments.now // kept_for)
    return desk.days.get(key, lambda: day_log(room, day, start, min(midnight, moments.now)))


def _day(log: DayLog, moments: Moments, units: str, number: int) -> dict:
    midnight = moments.midnight(log.day + timedelta(days=1))
    velocity, filters = log.told["velocity"] or {}, log.told["filters"]
    hole_s = log.told["mode_unknown_s"]
    return {
        "day": log.day,
        "name": f"{log.day:%A} {log.day.day} {log.day:%B}",
        "svg": Markup(_inline(strip(log, midnight, moments, f"day{number}"))),
        "used": {mode: _length(seconds) for mode, seconds in log.used_s.items() if seconds},
        "unused": UNKNOWN if hole_s >= 1 else "no",
        "velocity": {name: _words(velocity.get(name), "velocity", units) for name in ("mean", "lowest")},
        "pressure": _words((log.told["pressure"] or {}).get("mean"), "pressure", units),
        "filters": [(name, _words(one["mean"], "pressure", units)) for name, one in filters.items() if one is not None],
        "unknown": _length(velocity.get("unknown_s", 0.0)),
        "below": _length(velocity.get("beyond_s") or 0.0),
        "not_below": _not_below(velocity, hole_s, log.used_s["spray"]),
        "holes": [(moments.at(one.start), moments.at(one.end), duration_text(one.end - one.start)) for one in log.holes],
        "air_holes": [(moments.at(one.start), moments.at(one.end)) for one in log.air_holes if one.spraying_s >= 1],
        "hole_time": _length(hole_s),
    }


def _not_below(velocity: dict, hole_s: float, sprayed_s: float) -> str:
    """Where nothing was found below the least velocity: whether there was anything to find it in."""
    if velocity.get("minimum") is None or (not sprayed_s and hole_s < 1):
        return "–"
    return UNKNOWN if velocity["beyond_s"] is None else "no"


def _length(seconds: float) -> str:
    return duration_text(round(seconds * SECOND)) if seconds >= 1 else ""


def _words(value: float | None, kind: str, units: str) -> str:
    return "–" if value is None else (show_us if units == "US" else show)(value, kind)


def _inline(drawn: str) -> str:
    """A drawing inside HTML needs no namespace."""
    return drawn.replace(f' xmlns="{XMLNS}"', "")


def _review(entry) -> dict:
    said = {"text": entry.private.get("text"), "by": entry.private.get("by"), "at": entry.recorded}
    return {name: format_time(parse_time(entry.body[name])) for name in ("from", "to")} | said


def _links(booth_id: str, first: date, last: date) -> dict[str, str]:
    """The same number of days before and after, and one day or a week around the last."""
    length = timedelta(days=(last - first).days + 1)

    def link(start: date, end: date) -> str:
        return f"/ventilation/{quote(booth_id, safe='')}?from={start}&to={end}"

    return {
        "earlier": link(first - length, last - length),
        "later": link(first + length, last + length),
        "day": link(last, last),
        "week": link(last - timedelta(days=A_WEEK - 1), last),
    }


PAGES = (
    Page("/ventilation", "ventilation", ventilation, nav="Ventilation"),
    Page("/ventilation/{booth}", "ventilation-log", ventilation_log),
    Page("/ventilation/{booth}", "ventilation-sign", sign, ("POST",), frozenset({EHS, SUPERVISOR}), body_limit=16 * 1024),
)
