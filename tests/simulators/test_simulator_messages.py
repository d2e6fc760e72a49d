"""What goes on the wire: the contract's shape, determinism, and independence of the logger."""

from __future__ import annotations

import ast
from collections import Counter
from pathlib import Path
from uuid import UUID

import pytest

import simulators
from booth.shop.care_shapes import CARE_EVENTS
from booth.times import SECOND, parse_time
from simulators.instruments import KINDS, kind_of
from simulators.people import ACKNOWLEDGED_AFTER_TICKS
from simulators.plant import Plant
from simulators.tern_valley import TERN_VALLEY
from tests.simulators.conftest import SEED, Shift, simulate

MODES = {"idle", "spray", "flash", "purge", "bake", "cool", "fault"}
EVENT_KEYS = {
    "job-open": {"vehicle", "process"},
    "job-close": {"vehicle"},
    "load": {"vans"},
    "step-start": {"vehicle", "step", "mix"},
    "step-end": {"vehicle", "step"},
    "check": {"vehicle", "check", "result"},
    "mix": {"mix", "coating", "lots", "pot"},
    "film": {"vehicle", "step", "zone", "value", "gauge"},
    "note": {"vehicle", "text"},
    "calibration": {"booth", "point", "result", "as_found", "as_left", "valid_until"},
}
ALLOWED_OF_BOOTH = {"booth.times"}


def imported(source: str) -> set[str]:
    names = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names |= {node.module or ""} | {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def forbidden(source: str) -> set[str]:
    """Modules of the logger that a source imports, the writing of times excepted."""
    of_booth = {name for name in imported(source) if name.split(".")[0] == "booth"}
    return {name for name in of_booth if not any(name == ok or name.startswith(ok + ".") for ok in ALLOWED_OF_BOOTH)}


def test_simulators_share_nothing_with_the_logger_but_times() -> None:
    files = list(Path(simulators.__file__).parent.glob("*.py"))
    assert len(files) > 10
    assert {file.name: found for file in files if (found := forbidden(file.read_text(encoding="utf-8")))} == {}


@pytest.mark.parametrize(
    "planted", ["import booth.judge.track", "from booth.physics import moist_air", "from booth import judge"]
)
def test_a_planted_import_is_caught(planted: str) -> None:
    assert forbidden(planted)


def test_every_reading_has_the_contracts_shape(shift: Shift) -> None:
    for tick, topic, payload in shift.readings:
        shop, booth, point = topic.split("/")
        assert shop == "shop" and set(payload) == {"time", "value", "unit"}
        kind = kind_of(f"{booth}/{point}")
        assert payload["unit"] == kind.unit
        if point == "mode":
            assert payload["value"] in MODES
        else:
            assert payload["value"] == round(payload["value"], kind.decimals)
        assert tick - 15 * SECOND <= parse_time(payload["time"]) <= tick
    assert {kind_of(topic.removeprefix("shop/")) for _, topic, _ in shift.readings} == set(KINDS.values())


def test_every_point_is_sent_every_five_seconds_but_for_the_silence(shift: Shift) -> None:
    ticks = (TERN_VALLEY.end - TERN_VALLEY.start) // 5 + 1
    times = {(topic, payload["time"]) for _, topic, payload in shift.readings}
    counts = Counter(topic for topic, _ in times)
    assert len(counts) == 30
    assert counts.pop("shop/north/humidity") == ticks - 6 * 12
    late_at_the_end = ticks - counts.pop("shop/mask-room/air-temperature")
    assert 0 <= late_at_the_end <= 3
    assert set(counts.values()) == {ticks}
    assert len(shift.readings) > len(times)  # some are sent twice


def test_every_event_has_the_contracts_shape(shift: Shift) -> None:
    seen, care = Counter(), 0
    for tick, topic, event in shift.events:
        assert topic.split("/")[0::2] == ["shop", "event"]
        assert str(UUID(event["id"])) == event["id"]
        assert event["by"].startswith("badge-")
        assert parse_time(event["time"]) <= tick
        if event["event"] in CARE_EVENTS:  # done in the weeks before, and entered before the shift begins
            own = {key: value for key, value in event.items() if key not in ("id", "event", "time", "by")}
            CARE_EVENTS[event["event"]].model_validate(own)
            care += 1
            continue
        assert tick - 5 * SECOND < parse_time(event["time"])
        keys = set(event) - {"id", "event", "time", "by", "values"} - ({"volume"} if event["event"] == "mix" else set())
        assert keys == EVENT_KEYS[event["event"]] or (event["event"] == "step-start" and "mix" in event)
        seen[event["event"]] += 1
    assert set(seen) == set(EVENT_KEYS)
    assert care == len(TERN_VALLEY.care) > 0
    assert len({event["id"] for _, _, event in shift.events}) == len(shift.events)
    assert sum("volume" not in event for _, _, event in shift.events if event["event"] == "mix") == 1  # one that nobody measured
    assert seen["calibration"] == 28  # every point but the two mode words


def test_steps_and_loads_follow_the_script(shift: Shift) -> None:
    coats = [(e["vehicle"], e["step"]) for _, _, e in shift.events if e["event"] == "step-start"]
    ends = [(e["vehicle"], e["step"]) for _, _, e in shift.events if e["event"] == "step-end"]
    assert len(coats) == len(set(coats)) == 17 and len(ends) == len(set(ends)) == 16
    assert ("TV-4101", "clear-2") not in coats + ends
    assert set(coats) - set(ends) == {("TV-4102", "clear-2")}
    loads = [(topic.split("/")[1], [van["vehicle"] for van in e["vans"]]) for _, topic, e in shift.events if e["event"] == "load"]
    assert [vans for booth, vans in loads if booth == "north"] == [["TV-4101"], [], ["TV-4104"], []]
    assert [vans for booth, vans in loads if booth == "south"] == [["TV-4102"], [], ["TV-4103"], [], ["TV-4105"]]


def test_same_seed_same_bytes_other_seed_other_bytes(shift: Shift) -> None:
    assert simulate(SEED).digest == shift.digest
    assert simulate(SEED + 1).digest != shift.digest


def test_a_shift_costs_little(shift: Shift) -> None:
    """The project's own budget: at most 12 s of one core, encoding included."""
    assert shift.cpu_s < 12.0


def test_a_tick_out_of_order_is_refused() -> None:
    plant = Plant(SEED, TERN_VALLEY)
    times = plant.times()
    plant.tick(next(times))
    next(times)
    with pytest.raises(ValueError, match="doesn't follow the last one; give the times of Plant.times"):
        plant.tick(next(times))


def test_a_moved_shift_says_the_same_at_other_times() -> None:
    moved = TERN_VALLEY.starting_at(parse_time("2026-08-01T00:00:00Z"))
    here, there = next(Plant(SEED, TERN_VALLEY).messages()), next(Plant(SEED, moved).messages())
    assert there[0] == parse_time("2026-08-01T00:00:00Z")
    assert [m["value"] for _, m in here[1] if "value" in m] == [m["value"] for _, m in there[1] if "value" in m]


def test_an_alarm_is_acknowledged_some_ticks_after_it_appeared_and_once() -> None:
    plant = Plant(SEED, TERN_VALLEY)
    topic, alarm = "shop/north/alarm/x", {"alarm": "TV-4101/1/x", "state": "unacknowledged"}
    plant.acknowledger.heard(topic, alarm)
    sent = []
    for number, time in zip(range(1, 60), plant.times(), strict=False):
        sent += [(number, t, m) for t, m in plant.tick(time) if m.get("event") == "acknowledge"]
        if sent and number == sent[0][0]:
            plant.acknowledger.heard(topic, alarm | {"state": "acknowledged"})
    assert [(n, t, m["alarm"], m["by"]) for n, t, m in sent] == [
        (ACKNOWLEDGED_AFTER_TICKS, "shop/north/event", "TV-4101/1/x", "badge-03")  # no painter there yet
    ]


def test_an_alarm_that_is_gone_is_not_acknowledged() -> None:
    plant = Plant(SEED, TERN_VALLEY)
    plant.acknowledger.heard("shop/north/alarm/x", {"alarm": "x", "state": "unacknowledged"})
    plant.acknowledger.heard("shop/north/alarm/x", {"alarm": "x", "state": "normal"})
    sent = [m for _, time in zip(range(60), plant.times(), strict=False) for _, m in plant.tick(time)]
    assert not [m for m in sent if m.get("event") == "acknowledge"]


def test_nobody_acknowledges_with_the_gun_open() -> None:
    plant = Plant(SEED, TERN_VALLEY)
    plant.acknowledger.heard("shop/north/alarm/x", {"alarm": "x", "state": "returned_unacknowledged"})
    open_gun = {"north": [plant.script.guns["north"][0]]}
    assert [plant.acknowledger.tick(30_000, open_gun) for _ in range(50)] == [[]] * 50
    assert plant.acknowledger.tick(30_000, {"north": []})[0][1]["alarm"] == "x"
