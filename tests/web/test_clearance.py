"""The countdown after spraying: from the definition in words (design: it starts anew when the fan stops or its data is lost)."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from booth.judge.clearance import clearance, unheard
from booth.judge.series import Series
from booth.times import SECOND

AGE = 15 * SECOND
NEEDED = 60


def series(values: dict[int, float]) -> Series:
    """Readings by second."""
    return Series(np.array(sorted(values), np.int64) * SECOND, np.array([values[one] for one in sorted(values)], float), AGE)


def gun(on_until: int, off_until: int, every: int = 5) -> Series:
    return series({second: 300.0 if second < on_until else 0.0 for second in range(0, off_until + 1, every)})


def fan(*stretches: tuple[int, int, float], every: int = 5) -> Series:
    return series({second: value for start, end, value in stretches for second in range(start, end, every)})


def found(guns: list[Series], air: Series, as_of: int):
    return clearance(guns, air, 60.0, 0.25, NEEDED * SECOND, as_of * SECOND)


def seconds(us: int | None) -> float | None:
    return None if us is None else us / SECOND


def test_counts_from_the_reading_that_says_off() -> None:
    told = found([gun(100, 200)], fan((0, 131, 0.5)), 130)
    assert (seconds(told.sprayed), seconds(told.since), seconds(told.until)) == (100, 100, 160)
    assert not told.is_over(130 * SECOND)


def test_no_spraying_no_countdown() -> None:
    assert found([gun(0, 200)], fan((0, 200, 0.5)), 190) is None
    assert found([], fan((0, 200, 0.5)), 190) is None


def test_while_the_gun_is_on_it_has_not_begun() -> None:
    told = found([gun(200, 200)], fan((0, 200, 0.5)), 150)
    assert seconds(told.sprayed) == 150
    assert not told.is_over(150 * SECOND)
    later = found([gun(200, 200)], fan((0, 200, 0.5)), 190)
    assert seconds(later.sprayed) == 190 and not later.is_over(190 * SECOND)


def test_a_fan_that_stops_starts_it_anew() -> None:
    air = fan((0, 120, 0.5), (120, 140, 0.1), (140, 300, 0.5))
    assert seconds(found([gun(100, 300)], air, 130).until) is None
    assert seconds(found([gun(100, 300)], air, 150).until) == 140 + NEEDED


def test_lost_data_starts_it_anew() -> None:
    air = fan((0, 120, 0.5), (150, 300, 0.5))  # 115 is the last, and speaks until 130
    assert seconds(found([gun(100, 300)], air, 129).until) == 100 + NEEDED
    assert seconds(found([gun(100, 300)], air, 140).until) is None
    assert seconds(found([gun(100, 300)], air, 160).until) == 150 + NEEDED


def test_a_fan_that_nobody_ever_heard_never_runs() -> None:
    assert seconds(found([gun(100, 300)], series({}), 200).until) is None


def test_once_it_has_run_the_fan_may_stop() -> None:
    told = found([gun(100, 400)], fan((0, 200, 0.5), (200, 400, 0.0)), 390)
    assert told.is_over(390 * SECOND)
    assert seconds(told.until) == 160


def test_a_gun_last_seen_on_is_on() -> None:
    assert seconds(found([gun(100, 90)], fan((0, 400, 0.5)), 300).sprayed) == 300


def test_a_gun_that_nobody_hears_may_be_on_while_the_booth_sprays() -> None:
    """Its last word at 100 speaks until 115: with the booth spraying to 150, the last that can't be ruled out is then."""
    last_heard_off, spraying = gun(0, 100), [(0, 150 * SECOND)]
    assert unheard([last_heard_off], spraying, 114 * SECOND) is None
    assert seconds(unheard([last_heard_off], spraying, 140 * SECOND)) == 140
    assert seconds(unheard([last_heard_off], spraying, 200 * SECOND)) == 150
    assert seconds(unheard([series({})], spraying, 200 * SECOND)) == 150
    assert seconds(unheard([series({0: 0.0, 40: 0.0, 50: 0.0, 60: 0.0})], [(0, 60 * SECOND)], 60 * SECOND)) == 40
    assert unheard([last_heard_off], [], 200 * SECOND) is None and unheard([], spraying, 200 * SECOND) is None


def test_what_nobody_heard_starts_the_countdown_anew() -> None:
    air = fan((0, 300, 0.5))
    told = clearance([gun(50, 100)], air, 60.0, 0.25, NEEDED * SECOND, 200 * SECOND, unseen=150 * SECOND)
    assert (seconds(told.sprayed), seconds(told.until)) == (150, 150 + NEEDED)
    assert seconds(clearance([], air, 60.0, 0.25, NEEDED * SECOND, 200 * SECOND, 150 * SECOND).until) == 150 + NEEDED


def test_of_two_guns_the_last_counts() -> None:
    assert seconds(found([gun(100, 300), gun(130, 300)], fan((0, 300, 0.5)), 150).until) == 130 + NEEDED


@given(
    st.lists(st.sampled_from((0.0, 0.1, 0.25, 0.5)), min_size=1, max_size=60),
    st.lists(st.booleans(), min_size=1, max_size=60),
    st.integers(1, 120),
)
def test_as_a_stopwatch_would_tell_it(air: list[float], spraying: list[bool], needed: int) -> None:
    """Against a stopwatch stepped second by second over readings of each second."""
    length = min(len(air), len(spraying))
    air, spraying = air[:length], spraying[:length]
    guns = [series({second: 100.0 if on else 0.0 for second, on in enumerate(spraying)})]
    told = clearance(guns, series(dict(enumerate(air))), 60.0, 0.25, needed * SECOND, (length - 1) * SECOND)
    watch, done = None, False
    for second in range(length):
        done = done or (watch is not None and second - watch >= needed)  # a reading speaks until the next one
        if spraying[second]:
            watch = None
        elif air[second] < 0.25:
            watch = None
        elif watch is None:
            watch = second
        done = done and not spraying[second]
    if not any(spraying):
        assert told is None
    else:
        assert told.is_over((length - 1) * SECOND) == done


@pytest.mark.parametrize("config", ["north", "south"])
def test_the_shop_states_its_smoke_test(config: str) -> None:
    from tests.app.plants import demo_shop

    rule = demo_shop().booths[config].clearance
    assert (rule.time, rule.smoke_test.isoformat()) == (360 * SECOND, "2026-03-02")


def test_a_clearance_without_a_hazard_is_refused() -> None:
    from booth.shop.problems import ConfigError
    from booth.shop.shop import load_shop
    from tests.app.plants import demo_shop

    files = dict(demo_shop().files)
    hazard = re.compile(r"\[hazard\].*?(?=\n# After)", re.DOTALL)
    files["booths/south.toml"] = hazard.sub("", files["booths/south.toml"])
    with pytest.raises(ConfigError, match=r"a table \[hazard\]"):
        load_shop(files)
