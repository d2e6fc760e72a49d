"""What was expected beside what came of it, and the readings around a difference."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from booth.judge.finding import Finding
from booth.rehearsal.play import Alarm, Picture, Played, moment_of, unit_of
from booth.rehearsal.shape import Expected
from booth.shop.point import Point
from booth.times import SECOND, duration_text

AROUND = 3  # readings on either side


@dataclass(frozen=True)
class Difference:
    """One thing that came out otherwise. `readings` are lines of text, those of the points that it may rest on."""

    about: str
    expected: str
    got: str
    readings: tuple[str, ...] = ()


def differences(played: Played) -> list[Difference]:
    """Everything that came out otherwise than the case expects; empty when it was kept to."""
    case = played.script.case
    found = [one for expected in case.expect for one in _differences(expected, played)]
    if case.quiet:
        found += [
            Difference("quiet", "no alarm or warning to the painter", f"{alarm.priority}: {alarm.sentence}")
            for alarm in played.alarms
            if alarm.audience == "painter"
        ]
    found += [Difference("what was sent", "everything taken", refused) for refused in played.refused]
    return found


def _differences(expected: Expected, played: Played) -> Iterator[Difference]:
    moment = moment_of(played.script, expected.at)
    picture = played.pictures[moment]
    if expected.alarm is not None:
        yield from _of_alarm(expected, played, picture, moment)
    elif expected.requirement == "*":
        yield from _of_all_others(expected, played, picture, moment)
    else:
        finding = picture.findings.get(expected.requirement)
        yield from _of_finding(expected, expected.requirement, finding, played, moment)


def _of_all_others(expected: Expected, played: Played, picture: Picture, moment: int) -> Iterator[Difference]:
    named = {one.requirement for one in played.script.case.expect if moment_of(played.script, one.at) == moment}
    for requirement, finding in picture.findings.items():
        if requirement not in named:
            yield from _of_finding(expected, requirement, finding, played, moment)


def _of_finding(
    expected: Expected, requirement: str, finding: Finding | None, played: Played, moment: int
) -> Iterator[Difference]:
    about = f"{requirement} at {_elapsed(played, moment)}"
    picture, wanted = played.pictures[moment], expected.verdict.value
    if finding is None:
        yield Difference(about, wanted, "no finding: there is nothing to say about it yet")
        return
    got = f"{finding.verdict.value}{'' if finding.final else ' so far'}: {finding.sentence}"
    if finding.verdict is not expected.verdict:
        yield Difference(about, wanted, got, _readings(played, _where(finding, moment), picture.points.get(requirement, ())))
    elif expected.final is not None and finding.final is not expected.final:
        yield Difference(about, f"{wanted}, {'final' if expected.final else 'so far'}", got)
    elif expected.says is not None and expected.says not in finding.sentence:
        yield Difference(about, f"{wanted}, saying {expected.says!r}", got)


def _where(finding: Finding, moment: int) -> int:
    """The moment that decides: the worst of the first excursion, else the end of what was judged."""
    if finding.excursions:
        return finding.excursions[0].start
    return min(moment, finding.end) if finding.end is not None else moment


def _of_alarm(expected: Expected, played: Played, picture: Picture, moment: int) -> Iterator[Difference]:
    about = f"alarm {expected.alarm} at {_elapsed(played, moment)}"
    alarm = next((one for one in picture.alarms if one.requirement == expected.alarm), None)
    state, points = alarm.state.value if alarm else "normal", picture.points.get(expected.alarm, ())
    if expected.state is not None and state != expected.state.value:
        yield Difference(about, expected.state.value, _alarm_words(alarm, played), _readings(played, moment, points))
        return
    if expected.priority is not None and (alarm is None or alarm.priority != expected.priority):
        yield Difference(about, expected.priority, _alarm_words(alarm, played))
    if expected.raised is not None:
        wanted = played.script.begins + expected.raised
        if alarm is None or abs(alarm.raised - wanted) > expected.within:
            text = f"raised at {duration_text(expected.raised)}, give or take {duration_text(expected.within)}"
            yield Difference(about, text, _alarm_words(alarm, played), _readings(played, wanted, points))


def _alarm_words(alarm: Alarm | None, played: Played) -> str:
    if alarm is None:
        return "it was never raised"
    return f"{alarm.priority}, {alarm.state.value}, raised at {_elapsed(played, alarm.raised)}: {alarm.sentence}"


def _elapsed(played: Played, moment: int) -> str:
    return duration_text(moment - played.script.begins)


def _readings(played: Played, moment: int, names: Iterable[str]) -> tuple[str, ...]:
    """A line for each point: what it said before and after the moment."""
    lines = []
    for name in names:
        series, point = played.readings.get(name), played.points.get(name)
        if series is None or point is None:
            lines.append(f"{name}: nothing, the case has no course for it")
            continue
        index = int(np.searchsorted(series.times, moment, side="right"))
        near = range(max(0, index - AROUND), min(len(series.times), index + AROUND))
        said = "  ".join(f"{_short(played, int(series.times[i]))} {_value(point, series.values[i])}" for i in near)
        lines.append(f"{name}{f' ({unit_of(point)})' if unit_of(point) else ''}: {said or 'nothing'}")
    return tuple(lines)


def _value(point: Point, value: float) -> str:
    return point.words[int(value)] if point.words else f"{value:g}"


def _short(played: Played, moment: int) -> str:
    minutes, seconds = divmod((moment - played.script.begins) // SECOND, 60)
    return f"{minutes // 60}:{minutes % 60:02d}:{seconds:02d}"
