"""A booth's day as a strip: what it did, where its air was below the least, and the holes, hatched and named.

Drawn with the record's own patterns, so that it reads in grey and on paper.
"""

from __future__ import annotations

from datetime import timedelta

from booth.reports import svg
from booth.reports.patterns import definitions, fill
from booth.times import HOUR, MINUTE, duration_text, from_datetime
from booth.web.desk.day_log import DayLog
from booth.web.desk.moments import Moments

LEFT, WIDTH, RIGHT = 66.0, 760.0, 8.0
MODE_TOP, LANE, AIR_TOP, HEIGHT = 20.0, 26.0, 52.0, 78.0
SHOWN_MODES = ("spray", "flash", "purge", "bake", "cool", "fault")
NAMED_FROM = 44.0  # a piece this wide has room for its name


def strip(log: DayLog, midnight: int, moments: Moments, prefix: str) -> str:
    """The SVG of one day that ends at `midnight`; `prefix` keeps its ids apart from another day's."""
    scale = _Scale(log.start, midnight)
    drawn = [_lane("Booth", MODE_TOP), _lane("Air", AIR_TOP), *_hours(log, midnight, moments, scale)]
    for piece in log.pieces:
        if piece.mode in SHOWN_MODES:
            drawn.append(_block(scale, piece.start, piece.end, MODE_TOP, fill(prefix, _pattern(piece.mode)), _css(piece.mode)))
            drawn += _name(scale, piece.start, piece.end, MODE_TOP, piece.mode, on_solid=piece.mode == "spray")
        elif piece.mode is None:
            drawn += _hole(scale, piece.start, piece.end, MODE_TOP, prefix)
    for one in log.air_holes:
        drawn += _hole(scale, one.start, one.end, AIR_TOP, prefix)
    for start, end in log.below:
        drawn.append(_block(scale, start, end, AIR_TOP, fill(prefix, "missed"), "mark missed"))
    if log.end < midnight:
        x = scale.x(log.end)
        drawn.append(svg.line(x, MODE_TOP - 3, x, AIR_TOP + LANE, cls="rule", stroke="#1b1b1b", stroke_width=1.5))
        if WIDTH - RIGHT - x > NAMED_FROM:
            drawn.append(svg.text(x + 4, MODE_TOP + 17, "not yet", fill="#4a5158", cls="soft"))
    return svg.drawing(WIDTH, HEIGHT, f"{log.day:%A %d %B %Y}", describe(log, moments), definitions(prefix), *drawn)


def describe(log: DayLog, moments: Moments) -> str:
    """The same in words."""
    used = [f"{mode} {duration_text(round(seconds * 1e6))}" for mode, seconds in log.used_s.items() if seconds]
    told = [", ".join(used) if used else "Not in use"]
    told += [f"no data {moments.at(one.start)} to {moments.at(one.end)}" for one in log.holes]
    if log.below:
        below = sum(end - start for start, end in log.below)
        told.append(f"below the least velocity for {duration_text(below)} while spraying")
    return "; ".join(told) + "."


class _Scale:
    def __init__(self, start: int, end: int) -> None:
        self._start, self._length = start, max(end - start, 1)

    def x(self, moment: int) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * (moment - self._start) / self._length


def _lane(name: str, top: float) -> str:
    return svg.text(0, top + 17, name, cls="soft", fill="#4a5158") + svg.tag(
        "rect", x=LEFT, y=top, width=WIDTH - LEFT - RIGHT, height=LANE, fill="none", stroke="#c9ced4", cls="edge"
    )


def _hours(log: DayLog, midnight: int, moments: Moments, scale: _Scale) -> list[str]:
    """A tick each three hours of the wall clock, wherever a clock change has put them."""
    first = moments.local(log.start)
    drawn = []
    for hour in range(0, 25, 3):
        # Arithmetic on the wall clock, then its own offset: the strip is as long as the day really was.
        moment = from_datetime((first.replace(tzinfo=None) + timedelta(hours=hour)).replace(tzinfo=moments.zone))
        if moment <= midnight:
            x = scale.x(moment)
            drawn.append(svg.line(x, MODE_TOP - 4, x, MODE_TOP, stroke="#4a5158", cls="edge"))
            anchor = "start" if hour == 0 else "end" if hour == 24 else "middle"
            drawn.append(svg.text(x, MODE_TOP - 7, f"{hour:02d}:00", text_anchor=anchor, cls="soft", fill="#4a5158"))
    return drawn


def _block(scale: _Scale, start: int, end: int, top: float, paint: str, css: str) -> str:
    width = max(scale.x(end) - scale.x(start), 1.0)
    edge = {"stroke": "#4d5b6b", "stroke_width": 0.8}
    return svg.tag("rect", x=scale.x(start), y=top, width=width, height=LANE, fill=paint, cls=css, **edge)


def _hole(scale: _Scale, start: int, end: int, top: float, prefix: str) -> list[str]:
    if end - start < MINUTE:
        return []
    return [
        _block(scale, start, end, top, fill(prefix, "unproven"), "mark unproven"),
        *_name(scale, start, end, top, "no data" if end - start < HOUR else f"no data {duration_text(end - start)}"),
    ]


def _name(scale: _Scale, start: int, end: int, top: float, words: str, on_solid: bool = False) -> list[str]:
    """In the piece, on a piece of paper so that a hatching doesn't strike it through; or nowhere."""
    left, room = scale.x(start), scale.x(end) - scale.x(start)
    width = svg.width_of(words) + 6
    if room < max(width, NAMED_FROM if not on_solid else width):
        return []
    middle = left + room / 2
    if on_solid:
        return [svg.text(middle, top + 17, words, text_anchor="middle", fill="#ffffff", cls="on-solid")]
    paper = svg.tag("rect", x=middle - width / 2, y=top + 4, width=width, height=LANE - 8, fill="#ffffff", cls="paper")
    return [paper, svg.text(middle, top + 17, words, text_anchor="middle")]


def _pattern(mode: str) -> str:
    return {"spray": "coat", "fault": "beyond"}.get(mode, mode)


def _css(mode: str) -> str:
    return "coat" if mode == "spray" else "bar"


def key(prefix: str) -> list[tuple[str, str]]:
    """A small sample of each pattern with its words."""
    samples = [*((_pattern(mode), _css(mode), mode) for mode in SHOWN_MODES)]
    samples += [("unproven", "mark unproven", "no data"), ("missed", "mark missed", "air below the least while spraying")]
    return [(_sample(f"{prefix}-{words.split()[0]}", name, css), words) for name, css, words in samples]


def _sample(prefix: str, name: str, css: str) -> str:
    block = svg.tag("rect", x=0.5, y=0.5, width=39, height=19, fill=fill(prefix, name), cls=css, stroke="#4d5b6b")
    return svg.tag("svg", definitions(prefix), block, viewBox="0 0 40 20", aria_hidden="true")
