"""A fault of an instrument as an alarm: to maintenance always, to the painter where an open job needs the point."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from booth.alarms.condition import Audience, Condition
from booth.alarms.silence import LOOK_BACK_US, WHAT_TO_DO
from booth.judge.health.faults import OUT_OF_OPERATING_RANGE, STALE, WORDS
from booth.judge.health.spans import Interval
from booth.times import SECOND


def ailments(intervals: Iterable[Interval], now: Collection[str], next_: Collection[str], as_of: int) -> Iterator[Condition]:
    """Every fault that lasts at `as_of` or ended lately.

    `now` and `next_`: points that an open job needs in the step that it is in, and in its next one. A probe that is too hot for
    its operating range is as it should be, unless somebody needs it. Points that are silent and that nobody needs are one alarm
    for their booth: when the power is switched off at night, that is one piece of news and not sixty.
    """
    quiet: list[Interval] = []
    for one in intervals:
        if one.certain > as_of or (one.end is not None and one.end < as_of - LOOK_BACK_US):
            continue
        if one.fault == STALE and one.point in now:
            continue  # the silence itself is the alarm, and sooner (booth.alarms.silence)
        if one.point in now or one.point in next_:
            yield _ailing(one, "painter")
        elif one.fault == STALE:
            quiet.append(one)
        elif one.fault != OUT_OF_OPERATING_RANGE:
            yield _ailing(one, "maintenance")
    yield from _quiet(quiet)


def _ailing(one: Interval, audience: Audience) -> Condition:
    booth, _, point = one.point.partition("/")
    offset = "" if one.offset_us is None else f", by {one.offset_us / SECOND:+.0f} s (arrival less its own time)"
    return Condition(
        id=f"{one.point}/{one.fault}",
        booth=booth,
        requirement=one.fault,
        priority="warning",
        sentence=f"{point} {WORDS[one.fault]}{offset}",
        since=one.certain,
        until=None if one.end is None else max(one.end, one.certain + 1),
        what_to_do=WHAT_TO_DO,
        audience=audience,
    )


def _quiet(intervals: list[Interval]) -> Iterator[Condition]:
    """Each silence is an occurrence of its booth's alarm; the sentence names all that last."""
    for booth in dict.fromkeys(one.point.partition("/")[0] for one in intervals):
        own = [one for one in intervals if one.point.startswith(f"{booth}/")]
        names = sorted(one.point.partition("/")[2] for one in own if one.end is None) or [own[-1].point.partition("/")[2]]
        for one in own:
            yield Condition(
                id=f"{booth}/stale",
                booth=booth,
                requirement=STALE,
                priority="warning",
                sentence=f"{', '.join(names)} {'has' if len(names) == 1 else 'have'} sent no usable reading",
                since=one.certain,
                until=one.end,
                what_to_do=WHAT_TO_DO,
                audience="maintenance",
            )
