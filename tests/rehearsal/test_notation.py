"""Made-up traces: what the notation means, and what it refuses."""

from __future__ import annotations

import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from booth.rehearsal.notation import NotationError, read_trace
from booth.times import MINUTE, SECOND


def sent(text: str, kind: str = "temperature", until: int = 10 * MINUTE, **more) -> dict[float, float | str]:
    return {us / SECOND: value for us, value in read_trace(text, kind, **more).samples(until, "seed")}


def test_a_value_is_held_and_the_last_part_goes_on():
    found = sent("20 degC for 1 min, 25 degC", until=2 * MINUTE)
    assert found[0] == found[55] == 20
    assert found[60] == found[120] == 25
    assert len(found) == 25  # every 5 s, both ends


def test_a_ramp_is_a_straight_line_from_the_value_before():
    found = sent("20 degC for 1 min, to 80 degC over 10 min, 80 degC", until=12 * MINUTE)
    assert found[60] == 20
    assert found[60 + 300] == 50
    assert found[660] == 80


def test_silence_sends_nothing():
    found = sent("20 degC for 1 min, silent for 1 min, 20 degC", until=3 * MINUTE)
    assert not [second for second in found if 60 <= second < 120]
    assert 120 in found


def test_other_units_and_words():
    assert sent("77 degF", until=0) == {0: 25}
    assert sent("spray for 5 s, bake", "number", 5 * SECOND, words=("spray", "bake")) == {0: "spray", 5: "bake"}


def test_how_often_it_is_sent():
    assert list(sent("20 degC, every 20 s", until=MINUTE)) == [0, 20, 40, 60]


def test_noise_is_the_same_again_and_as_large_as_stated():
    text = "20 degC, noise 0.2 K, every 1 s"
    values = list(sent(text, until=120 * MINUTE).values())
    assert values == list(sent(text, until=120 * MINUTE).values())
    assert statistics.stdev(values) == pytest.approx(0.2, rel=0.05)
    assert statistics.mean(values) == pytest.approx(20, abs=0.02)


@given(
    st.lists(st.tuples(st.integers(1, 900), st.floats(-20, 90)), min_size=1, max_size=8),
    st.integers(1, 60),
)
def test_every_part_begins_where_the_one_before_ended(parts, every):
    text = ", ".join(f"{value} degC for {seconds} s" for seconds, value in parts) + f", every {every} s"
    trace = read_trace(text, "temperature")
    assert trace.length_us == sum(seconds for seconds, _ in parts) * SECOND
    found = list(trace.samples(10**12))
    assert [us for us, _ in found] == list(range(0, trace.length_us, every * SECOND))
    for us, value in found:
        ends, at = 0, None
        for seconds, wanted in parts:
            ends += seconds * SECOND
            if us < ends:
                at = wanted
                break
        assert value == at


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "sends nothing"),
        ("every 5 s", "sends nothing"),
        ("23 degC, 24 degC", "never ends"),
        ("to 60 degC over 12 min", "no value before it"),
        ("silent for 1 min, to 60 degC over 12 min", "no value before it"),
        ("23", "with its unit"),
        ("23 percent", "not a unit of a temperature"),
        ("23 degC for 5", "with its unit"),
        ("23 degC for 0 s", "takes no time"),
        ("23 degC, every 0 s", "takes no time"),
        ("23 degC, noise 2 percent", "not a unit of a temperature difference"),
        ("23 degC until noon", "not a unit"),
    ],
)
def test_what_cannot_be_read_says_what_to_write(text, said):
    with pytest.raises(NotationError, match=said) as caught:
        read_trace(text, "temperature")
    assert caught.value.write


def test_a_word_that_the_point_does_not_send():
    with pytest.raises(NotationError, match="'sprai' is not a word") as caught:
        read_trace("sprai for 5 min", "number", ("idle", "spray"))
    assert caught.value.write == "idle for 20 min"
