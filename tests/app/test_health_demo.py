"""The detectors over the whole simulated shift: they find the probe that was planted to fall silent, and nothing else."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

import numpy as np
import pytest
from plants import demo_shop

from booth.judge.health.detect import Window, detect
from booth.judge.health.faults import OUT_OF_OPERATING_RANGE, STALE
from booth.judge.health.terms import terms_of
from booth.judge.series import Series
from booth.readers.decode import decode
from booth.readers.received import ReadingIn
from booth.times import HOUR, MINUTE, clock
from booth.wiring import point_map

Found = tuple[str, str, str, str | None]


@pytest.fixture(scope="module")
def readings() -> dict[str, tuple[np.ndarray, np.ndarray, np.ndarray]]:
    """Of every point: times, values, arrivals."""
    import json

    from simulators.plant import Plant
    from simulators.tern_valley import TERN_VALLEY

    points, found = point_map(demo_shop()), defaultdict(dict)
    for tick, messages in Plant(1, TERN_VALLEY).messages():
        for topic, body in messages:
            if not topic.endswith("/event"):
                for one in decode(topic, json.dumps(body).encode(), tick, points):
                    if isinstance(one, ReadingIn):
                        found[one.point].setdefault(one.time, (one.value, tick))
    return {name: _columns(own) for name, own in found.items()}


def _columns(own: dict[int, tuple[float, int]]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    times = sorted(own)
    return np.array(times, np.int64), np.array([own[one][0] for one in times]), np.array([own[one][1] for one in times])


def found_in(readings: dict) -> Iterator[Found]:
    shop = demo_shop()
    last = max(int(times[-1]) for times, _, _ in readings.values())
    for booth, room in shop.booths.items():
        names = [f"{booth}/{name}" for name in room.points]
        series = {name: Series(*readings[name][:2], room.points[name.split("/")[1]].max_age) for name in names}
        mode = series[f"{booth}/{room.mode_point}"] if room.mode_point else None
        words = room.points[room.mode_point].words if room.mode_point else ()
        minutes = {name: _minutes(*readings[name]) for name in names}
        first = min(int(one.times[0]) for one in series.values())
        window = Window(first - HOUR, first - HOUR, last, series, mode, words, {}, minutes)
        for name in room.points:
            for answer in detect(terms_of(shop, booth, name), window):
                for span in answer.spans:
                    ends = (span.start, span.end)
                    start, end = (None if us is None else clock(us, shop.site.zone) for us in ends)
                    yield f"{booth}/{name}", answer.fault, start, end


def _minutes(times: np.ndarray, _values: np.ndarray, arrivals: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    minutes = times // MINUTE * MINUTE
    firsts = np.flatnonzero(np.append(True, minutes[1:] != minutes[:-1]))
    return minutes[firsts], np.minimum.reduceat(arrivals - times, firsts)


def test_the_planted_silence_and_no_false_alarm(readings: dict) -> None:
    assert len(readings) > 25
    found = list(found_in(readings))
    told = [one for one in found if one[1] != OUT_OF_OPERATING_RANGE]
    assert told == [("north/humidity", STALE, "07:40", "07:46")]
    assert {name for name, fault, *_ in found if fault == OUT_OF_OPERATING_RANGE} == {"north/humidity", "south/humidity"}


def test_a_fault_planted_into_the_same_shift_is_found(readings: dict) -> None:
    """Else the test above would prove nothing: the air temperature of the north booth frozen for the whole morning."""
    times, values, arrivals = readings["north/air-temperature"]
    frozen = np.where(np.arange(len(times)) > 500, values[500], values)
    found = list(found_in(readings | {"north/air-temperature": (times, frozen, arrivals)}))
    assert ("north/air-temperature", "stuck") in {one[:2] for one in found}
    slow = list(found_in(readings | {"south/humidity": (times - 2 * MINUTE, values, arrivals)}))
    assert ("south/humidity", "clock_off") in {one[:2] for one in slow}
