"""Events: every kind of the contract read as it should be, and refused with a sentence when it is not."""

from __future__ import annotations

from typing import Any
from uuid import UUID

import pytest

from booth.shop.event_shapes import EVENTS
from booth.shop.events import BY_PEOPLE_ONLY, EventError, read_event
from booth.times import parse_time

ID = "6f1c1e0e-5d0a-4c56-8a6f-6a1f0d0b7c11"
TIME = "2026-07-13T11:05:00Z"
NOW = parse_time("2026-07-13T11:05:03Z")
VAN = {"vehicle": "TV-4101"}

GOOD: list[tuple[str, dict[str, Any], dict[str, Any]]] = [
    ("job-open", VAN | {"process": "high-roof"}, {}),
    ("job-close", VAN, {}),
    ("load", {"vans": []}, {}),
    ("load", {"vans": [VAN | {"bay": "1", "guns": ["gun-1"], "probes": {"part-1": "roof"}}]}, {}),
    ("step-start", VAN | {"step": "clear-1", "zone": "roof", "mix": "M-31"}, {}),
    ("step-end", VAN | {"step": "clear-1"}, {}),
    ("hold", VAN | {"step": "clear-1"}, {}),
    ("resume", VAN | {"step": "clear-1"}, {}),
    ("handover", VAN | {"step": "clear-1"}, {}),
    ("check", VAN | {"check": "water-test", "result": "passed", "values": {"flow": "32 gallon/min"}}, {}),
    ("mix", {"mix": "M-31", "coating": "two-pack-clear", "lots": {"hardener": "H-9"}, "pot": "pot-1", "volume": "1.2 L"}, {}),
    ("film", VAN | {"step": "clear-2", "zone": "roof", "value": "62 um", "gauge": "ultrasonic"}, {}),
    ("acknowledge", {"alarm": "TV-4103/1/bake/bake_start"}, {}),
    ("shelve", {"alarm": "TV-4103/1/bake/bake_start", "until": TIME}, {}),
    ("note", VAN, {"text": "Hood filter changed."}),
    ("correction", {"corrects": ID, "set": {"time": TIME, "zone": None, "values": {"moisture": "9 %"}}}, {"reason": "typo"}),
    ("concession", VAN | {"requirement": "bake/bake_start"}, {"reason": "wipe test passed"}),
    ("release", VAN, {}),
    ("release", VAN, {"reason": "all met"}),
    ("reopen", VAN, {"reason": "sand and recoat"}),
    ("calibration", {"point": "humidity", "result": "passed", "as_found": "1 percent", "valid_until": TIME}, {}),
    ("review", {"from": TIME, "to": "2026-07-14T11:05:00Z"}, {"text": "Filters due."}),
    ("not-a-coat", {"corrects": ID}, {}),
    ("not-a-coat", {"from": TIME, "to": TIME}, {}),
    ("filter-changed", {"filter": "exhaust", "paper": "report 7", "drop_before": "240 Pa", "drop_after": "0 Pa"}, {}),
    ("grid", {"mode": "spray", "state": "loaded", "instrument": "AN-2", "rule": "equal-area",
              "velocities": {"A1": "0.5 m/s", "A2": "90 ft/min"}, "index": "0.5 m/s"}, {}),
    ("grid", {"mode": "spray", "state": "empty", "instrument": "AN-2", "rule": "log-linear", "mean": "0.5 m/s",
              "lowest": "0.41 m/s", "area": "24 m^2"}, {}),
    ("booth-examined", {"result": "passed", "report": "EX-12", "valid_until": TIME}, {}),
    ("interlock-tested", {"interlock": "air before spray", "result": "failed"}, {"text": "Valve stuck."}),
    ("gauge-tested", {"gauge": "FD-N", "result": "repaired"}, {}),
    ("alarm-tested", {"device": "horn", "result": "passed"}, {}),
    ("spray-training", {"course": "isocyanates", "certificate": "C-9", "valid_until": TIME}, {}),
    ("fit-test", {"respirator": "air-fed hood", "valid_until": TIME}, {}),
    ("gun-type", {"gun": "gun-1", "type": "low-pressure"}, {}),
    ("gun-cleaned", {"gun": "gun-1", "method": "enclosed washer"}, {}),
    ("air-sample", {"report": "L-77", "laboratory": "an accredited one", "substance": "HDI", "found": "below 0.5 µg/m³",
                    "place": "personal", "from": TIME, "to": "2026-07-13T15:05:00Z"}, {"text": "Hood on."}),
    ("used", {"product": "gun wash", "use": "cleaner", "volume": "0.5 L", "lot": "W-1"}, {}),
    ("purchase", {"product": "clear", "component": "resin", "volume": "5 gallon", "lot": "R-8", "document": "invoice 3"}, {}),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "keys", "private"), GOOD, ids=[f"{number}-{case[0]}" for number, case in enumerate(GOOD)])
def test_an_event_is_taken_apart(kind: str, keys: dict, private: dict) -> None:
    sent = {"id": ID, "event": kind, "time": TIME, "by": "badge-17"} | keys | private
    event = read_event(sent, "north", NOW)
    assert (event.id, event.kind, event.time) == (ID, kind, parse_time(TIME))
    assert event.private == {"by": "badge-17"} | private
    assert event.body | keys == event.body and event.body["booth"] == "north"
    assert not {"by", "reason", "text", "id", "event", "time"} & set(event.body)


def test_every_kind_has_a_good_and_a_bad_case() -> None:
    assert {case[0] for case in GOOD} == set(EVENTS)
    assert set(EVENTS) <= {str(case[0]) for case in BAD}
    assert set(BY_PEOPLE_ONLY) <= set(EVENTS)


BAD: list[tuple[str, dict[str, Any], str]] = [
    ("job-open", VAN, "job-open: process is missing"),
    ("job-open", {"vehicle": "", "process": 5}, "job-open: vehicle: expected a text that isn't empty, found ''; "
                                                "process: expected text in quotes, found 5"),
    ("job-open", {"vehicle": "x" * 201, "process": "p"},
     f"job-open: vehicle: expected at most 200 characters, found '{'x' * 56}…"),
    ("job-close", {}, "job-close: vehicle is missing"),
    ("load", {"vans": "TV-4101"}, "load: vans: expected a list, found 'TV-4101'"),
    ("load", {"vans": [VAN, VAN]},
     "load: 'TV-4101' stands twice in this load; write for example each vehicle, gun and probe once"),
    ("load", {"vans": [VAN | {"probes": {"part-1": "roof"}}, {"vehicle": "TV-2", "probes": {"part-1": "ends"}}]},
     "load: 'part-1' stands twice in this load; write for example each vehicle, gun and probe once"),
    ("load", {"vans": [VAN | {"gun": "gun-1"}]},
     "load: vans.0.gun is not a key of this event; write one of vehicle, bay, guns, probes"),
    ("step-start", VAN | {"step": ""}, "step-start: step: expected a text that isn't empty, found ''"),
    ("step-end", VAN, "step-end: step is missing"),
    ("hold", VAN | {"step": "clear-1", "mix": "M-1"}, "hold: mix is not a key of this event; write one of vehicle, step, zone"),
    ("resume", {"step": "clear-1"}, "resume: vehicle is missing"),
    ("handover", VAN | {"step": 1}, "handover: step: expected text in quotes, found 1"),
    ("check", VAN | {"check": "wash", "result": "ok"}, "check: result: expected 'passed', 'failed' or 'repaired', found 'ok'"),
    ("check", VAN | {"check": "water-test", "result": "passed", "values": {"flow": "32"}},
     "check: values: '32' is not a liquid flow with its unit; write for example \"30 gallon/min\""),
    ("check", VAN | {"check": "water-test", "result": "passed", "values": {"leak": "1 L/min"}},
     "check: values: 'leak' is not a value that a check records; write for example one of flow, moisture, film, temperature"),
    ("mix", {"mix": "M-31"}, "mix: coating is missing"),
    ("film", VAN | {"step": "clear-2", "value": "62", "gauge": "ultrasonic"},
     "film: value: '62' is not a film thickness with its unit; write for example \"60 um\""),
    ("acknowledge", {}, "acknowledge: alarm is missing"),
    ("shelve", {"alarm": "a", "until": "noon"},
     "shelve: until: 'noon' is not an RFC 3339 time with an offset; write for example 2026-03-02T08:14:05.250Z"),
    ("note", VAN, "note needs a text; write text = what a reader in two years must know"),
    ("note", VAN | {"text": 5}, "note: text is 5; write text in quotes"),
    ("correction", {"corrects": ID, "set": {"step": "clear-1"}},
     "correction needs a reason; write reason = what a reader in two years must know"),
    ("correction", {"corrects": ID, "set": {"minimum": "1 K"}, "reason": "r"},
     "correction: set.minimum is not a key of this event; "
     "write one of time, vehicle, step, zone, mix, result, values, lots, pot, volume, vans, value"),
    ("correction", {"corrects": ID, "set": {}, "reason": "r"},
     "correction: a correction changes at least one fact; write for example one of "
     "time, vehicle, step, zone, mix, result, values, lots, pot, volume, vans, value"),
    ("correction", {"corrects": "entry 5", "set": {"step": "x"}, "reason": "r"},
     f"correction: corrects: 'entry 5' is not the id (a UUID) of an event; write for example {ID}"),
    ("concession", VAN | {"requirement": "dwell", "reason": " "},
     "concession needs a reason; write reason = what a reader in two years must know"),
    ("release", {"van": "TV-1"}, "release: vehicle is missing; van is not a key of this event; write one of vehicle"),
    ("reopen", VAN, "reopen needs a reason; write reason = what a reader in two years must know"),
    ("calibration", {"point": "humidity", "result": "passed", "valid_until": "2027-01-31"},
     "calibration: valid_until: '2027-01-31' is not an RFC 3339 time with an offset; write for example 2026-03-02T08:14:05.250Z"),
    ("review", {"from": TIME, "to": TIME, "text": "t"},
     "review: from must be before to; write for example the earlier of the two as from"),
    ("not-a-coat", {"corrects": 7}, "not-a-coat: corrects: expected text in quotes, found 7"),
    ("not-a-coat", {"from": TIME},
     "not-a-coat: it names the entry that was no coat, or from when to when the guns made none; "
     'write for example corrects = the id of the entry, or from = "…" and to = "…"'),
    ("not-a-coat", {"from": TIME, "to": TIME.replace("20", "30", 1)},
     "not-a-coat: to must come after from, within a day; write for example when the gun was taken up, and when it was put down"),
    ("filter-changed", {"filter": "exhaust", "drop_before": "-3 Pa"},
     "filter-changed: drop_before: expected nothing or more, found '-3 Pa'; write for example 10 Pa"),
    ("grid", {"mode": "spray", "state": "loaded", "instrument": "AN-2"},
     "grid: a grid has either its points or their mean, not both, not neither; "
     "write for example mean=0.52 m/s lowest=0.44 m/s"),
    ("grid", {"mode": "spray", "state": "loaded", "instrument": "AN-2", "velocities": {"A1": "-0.1 m/s"}},
     "grid: velocities.A1: expected nothing or more, found '-0.1 m/s'; write for example 0.5 m/s"),
    ("grid", {"mode": "idle", "state": "half", "instrument": "AN-2", "mean": "0.5 m/s", "lowest": "0.4 m/s"},
     "grid: mode: expected 'spray', 'flash', 'purge', 'bake' or 'cool', found 'idle'; "
     "state: expected 'loaded' or 'empty', found 'half'"),
    ("booth-examined", {"result": "fine"}, "booth-examined: result: expected 'passed', 'failed' or 'repaired', found 'fine'"),
    ("interlock-tested", {"result": "passed"}, "interlock-tested: interlock is missing"),
    ("gauge-tested", {"gauge": "FD-N"}, "gauge-tested: result is missing"),
    ("alarm-tested", {"result": "passed"}, "alarm-tested: device is missing"),
    ("spray-training", {"valid_until": TIME}, "spray-training needs whose it is; write by = that person's badge"),
    ("fit-test", {"respirator": "hood", "valid_until": TIME, "by": "badge-9", "result": "passed"},
     "fit-test: result is not a key of this event; write one of respirator, valid_until"),
    ("gun-type", {"gun": "gun-1"}, "gun-type: type is missing"),
    ("gun-cleaned", {}, "gun-cleaned: gun is missing"),
    ("air-sample", {"report": "L-77", "laboratory": "x", "substance": "HDI", "found": "1", "place": "area",
                    "from": TIME, "to": TIME},
     "air-sample: from must be before to; write for example the earlier of the two as from"),
    ("used", {"product": "gun wash", "use": "cleaner", "volume": "0 L"},
     "used: volume: expected more than nothing, found '0 L'; write for example 1.5 L"),
    ("purchase", {"product": "clear coat", "volume": "5"},
     "purchase: volume: '5' is not a liquid volume with its unit; write for example \"1.5 L\""),
    ("note", VAN | {"text": "t", "principal": "root"}, "note: principal is not a key of this event; write one of vehicle"),
    ("note", VAN | {"text": "t", "time": "2026-07-13 11:05"},
     "note: '2026-07-13 11:05' is not an RFC 3339 time with an offset; write for example 2026-03-02T08:14:05.250Z"),
    ("note", VAN | {"text": "t", "booth": "south"},
     "note: booth 'south' in an event of booth 'north'; write the same booth, or leave it out"),
    ("paint", {}, f"event 'paint' is not known; write one of {', '.join(EVENTS)}"),
    (["note"], {}, f"event ['note'] is not known; write one of {', '.join(EVENTS)}"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "keys", "sentence"), BAD, ids=[f"{number}-{case[0]}" for number, case in enumerate(BAD)])
def test_a_bad_event_is_refused_with_what_to_write(kind: object, keys: dict, sentence: str) -> None:
    with pytest.raises(EventError) as caught:
        read_event({"event": kind} | keys, "north", NOW)
    assert str(caught.value) == sentence


@pytest.mark.parametrize("identity", ["5", 5, ["x"], "6f1c1e0e-5d0a-4c56-8a6f"])
def test_an_id_is_a_uuid(identity: object) -> None:
    with pytest.raises(EventError, match=r"^note: id .* is not a UUID; write for example [0-9a-f-]{36}, or leave it out$"):
        read_event({"event": "note", "text": "t", "id": identity} | VAN, None, NOW)


def test_without_a_time_it_happened_now_and_without_an_id_it_gets_one() -> None:
    first = read_event({"event": "job-close", "by": None} | VAN, None, NOW)
    second = read_event({"event": "job-close"} | VAN, None, NOW)
    assert first.time == NOW and UUID(first.id).version == 4 and first.id != second.id
    assert first.private == {} and "booth" not in first.body


def test_the_same_id_in_capitals_is_the_same_event() -> None:
    assert read_event({"event": "job-close", "id": ID.upper()} | VAN, None, NOW).id == ID


def test_a_payload_is_left_as_it_came() -> None:
    sent = {"event": "note", "text": "t", "id": ID, "time": TIME, "by": "badge-17"} | VAN
    before = dict(sent)
    read_event(sent, "north", NOW)
    assert sent == before


def test_a_fact_set_to_null_is_kept_apart_from_one_that_is_not_named() -> None:
    event = read_event({"event": "correction", "corrects": ID, "set": {"zone": None}, "reason": "whole van"}, None, NOW)
    assert event.body["set"] == {"zone": None}
