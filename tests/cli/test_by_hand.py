"""A shop without a broker: configuration, events by hand, readings out of other loggers' files, records. As a user would.

The readings are made up; what must come out follows from the limits in the process and coating files alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from booth.times import SECOND, format_time, parse_time
from tests.cli.commands import Said, booth

DAY = "2024-06-03"
START = parse_time(f"{DAY}T13:00:00Z")
PROCESS = """\
name = "Patch, one coat of sealer"
version = "1"
body = "patch"
zones = { lower = "fibreglass" }

[[gates]]
check = "wash"
source = "shop rule: preparation"

[[steps]]
step = "sealer"
kind = "coat"
coating = "epoxy-sealer"
"""
WIDE = """\
[time]
column = "when"

[columns]
"air F" = { point = "south/air-temperature", unit = "degF" }
"rh" = { point = "south/humidity", unit = "percent" }
"fpm" = { point = "south/air-velocity", unit = "ft/min" }
"balance" = { point = "south/booth-pressure", unit = "Pa" }
"skin" = { point = "south/part-1", unit = "degC" }
"mode" = { point = "south/mode" }
"""
LONG = """\
delimiter = ";"
decimal = ","

[time]
column = "time"
format = "%d.%m.%Y %H:%M:%S"
zone = "America/Chicago"

[long]
point = "point"
value = "value"
unit = "unit"
"""


@dataclass(frozen=True)
class Shop:
    """A folder with a configuration and, soon, a store."""

    folder: Path

    @property
    def config(self) -> Path:
        return self.folder / "config"

    def __call__(self, *args: str | Path) -> Said:
        config = None if args[0] in ("redact", "trace") else self.config
        return booth(*args, config=config, store=None if args[0] == "check" else self.folder / "store")

    def event(self, kind: str, *facts: str, by: str = "badge-5", minute: float = 0.0) -> dict:
        said = self("event", kind, *facts, "--by", by, "--time", at(minute), "--json")
        assert (said.code, said.err) == (0, ""), said.err
        return said.json

    def record(self, vehicle: str = "V-1") -> dict:
        said = self("record", vehicle, "--json")
        assert said.err == ""
        assert said.code == (0 if said.json["verdict"] == "met" else 1)
        return said.json

    def file(self, name: str, lines: list[str]) -> Path:
        path = self.folder / name
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return path


def at(minute: float) -> str:
    """RFC 3339, so many minutes after the coat began."""
    return format_time(START + round(minute * 60 * SECOND))


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    made = Shop(tmp_path)
    assert booth("init", made.config).code == 0
    (made.config / "processes" / "patch.toml").write_text(PROCESS, encoding="utf-8")
    (made.config / "replay" / "wide.toml").write_text(WIDE, encoding="utf-8")
    (made.config / "replay" / "long.toml").write_text(LONG, encoding="utf-8")
    yield made


def wide_rows(minutes: float = 12, rh: str = "50") -> list[str]:
    """22 °C, a dew point of 11 °C at 50 % (ASHRAE), 0.5 m/s: all within the sealer's and the booth's limits."""
    rows = ["when,air F,rh,fpm,balance,skin,mode"]
    return rows + [f"{at(tick / 12)},71.6,{rh},98.4,3,22.0,spray" for tick in range(-12, round(12 * minutes))]


def pot_rows(minutes: float = 12) -> list[str]:
    """The pot in another logger's file: long, local time, decimal comma. 13:00Z is 08:00 in Chicago in June."""
    minutes_of_day = range(7 * 60 + 40, 8 * 60 + round(minutes))
    rows = [f"03.06.2024 {one // 60:02d}:{one % 60:02d}:00;mix-room/pot-1;20,5;degC" for one in minutes_of_day]
    return ["time;point;value;unit", *rows]


def painted(shop: Shop, mix: bool = True) -> str:
    """One coat, done right; returns the id of its start."""
    for point in ("air-temperature", "humidity", "air-velocity", "booth-pressure", "exhaust-flow", "part-1"):
        facts = ["booth=south", f"point={point}", "result=passed", "valid_until=2025-01-01T00:00:00Z"]
        shop.event("calibration", *facts, minute=-600)
    pot = ["booth=mix-room", "point=pot-1", "result=passed", "valid_until=2025-01-01T00:00:00Z"]
    shop.event("calibration", *pot, minute=-600)
    shop.event("job-open", "vehicle=V-1", "process=patch", minute=-60)
    shop.event("check", "vehicle=V-1", "check=wash", "result=passed", minute=-50)
    shop.event("load", "booth=south", 'vans=[{"vehicle": "V-1", "guns": ["gun-1"], "probes": {"part-1": "lower"}}]', minute=-30)
    lots = 'lots={"resin": "R-1", "hardener": "H-1"}'
    shop.event("mix", "booth=mix-room", "mix=M-1", "coating=epoxy-sealer", lots, "pot=pot-1", minute=-20)
    named = ["mix=M-1"] if mix else []
    started = shop.event("step-start", "vehicle=V-1", "step=sealer", *named, minute=0)
    shop.event("step-end", "vehicle=V-1", "step=sealer", minute=10)
    shop.event("job-close", "vehicle=V-1", minute=11)
    for name, rows, map_ in (("wide.csv", wide_rows(), "wide"), ("long.csv", pot_rows(), "long")):
        said = shop("replay", shop.file(name, rows), "--map", map_, "--json")
        assert said.code == 0 and said.json["quarantined"] == 0 and said.json["readings"] > 20, said.err
    return started["id"]


def verdicts(record: dict, round_: int = -1) -> dict[str, str]:
    steps = record["rounds"][round_]["steps"]
    return {one["requirement"]: one["verdict"] for step in steps for one in step["findings"]}


def test_a_good_coat_is_met(shop: Shop) -> None:
    assert shop("check").code == 0
    painted(shop)
    record = shop.record()
    assert record["verdict"] == "met", record["summary"]
    assert set(verdicts(record).values()) == {"met"} and len(verdicts(record)) >= 10
    air = next(one for one in record["rounds"][0]["steps"][0]["findings"] if one["kind"] == "air_temperature")
    assert air["observed"] == pytest.approx(22.0, abs=1e-9)  # 71.6 °F
    assert record["lots"][0] == {
        "coating": "epoxy-sealer",
        "component": "hardener",
        "lot": "H-1",
        "mix": "M-1",
        "steps": ["sealer"],
    }
    assert shop("verify").code == 0


def test_the_same_file_again_changes_nothing(shop: Shop) -> None:
    painted(shop)
    before = shop.record()
    said = shop("replay", shop.folder / "wide.csv", "--map", "wide", "--json").json
    assert said["readings"] == 0 and said["duplicates"] == 6 * (12 * 12 + 12)
    assert {**shop.record(), "issued": ""} == {**before, "issued": ""}


def test_a_humid_stretch_is_missed(shop: Shop) -> None:
    painted(shop)
    shop.event("job-open", "vehicle=V-2", "process=patch", minute=60)
    shop.event("load", "booth=south", 'vans=[{"vehicle": "V-2", "probes": {"part-1": "lower"}}]', minute=60)
    shop.event("step-start", "vehicle=V-2", "step=sealer", "mix=M-1", minute=70)
    shop.event("step-end", "vehicle=V-2", "step=sealer", minute=80)
    rows = ["when,air F,rh,fpm,balance,skin,mode"]
    rows += [f"{at(69 + tick / 12)},71.6,88,98.4,3,22.0,spray" for tick in range(12 * 12)]  # 88 %: dew point 19.9 °C (ASHRAE)
    assert shop("replay", shop.file("humid.csv", rows), "--map", "wide").code == 0
    found = verdicts(shop.record("V-2"))
    assert found["sealer/relative_humidity"] == found["sealer/dew_point_margin"] == "missed"
    assert found["sealer/air_temperature"] == "met"


def test_a_forgotten_mix_is_mended_by_a_correction(shop: Shop) -> None:
    start = painted(shop, mix=False)
    assert verdicts(shop.record())["sealer/lots"] == "unproven"
    said = shop("event", "correction", f"corrects={start}", 'set={"mix": "M-1"}', "reason=read off the can", "--by", "badge-3")
    assert said.code == 0, said.err
    record = shop.record()
    assert verdicts(record)["sealer/lots"] == "met" and record["verdict"] == "met"
    (correction,) = record["corrections"]
    assert (correction["reason"], correction["by"], correction["set"]) == ("read off the can", "badge-3", {"mix": "M-1"})


def test_decisions_are_others_than_the_painters(shop: Shop) -> None:
    painted(shop, mix=False)
    wanted = ["event", "concession", "vehicle=V-1", "requirement=sealer/lots", "reason=customer agrees"]
    refused = shop(*wanted, "--by", "badge-5")
    assert refused.code == 2 and "badge-5 sprayed this van" in refused.err
    unsigned = shop(*wanted)
    assert unsigned.code == 2 and "--by" in unsigned.err
    assert shop(*wanted, "--by", "badge-3").code == 0
    assert shop("event", "release", "vehicle=V-1", "--by", "badge-5").code == 2
    assert shop("event", "release", "vehicle=V-1", "--by", "badge-3").code == 0
    assert shop.record()["job"]["outcome"] == "closed", "the pot life is not conceded yet"
    for requirement in ("sealer/pot_life", "sealer/induction"):
        also = ["event", "concession", "vehicle=V-1", f"requirement={requirement}", "reason=customer agrees"]
        assert shop(*also, "--by", "badge-3").code == 0
    record = shop.record()
    assert record["job"]["outcome"] == "released with concession"
    assert record["verdict"] == "unproven", "a concession changes no verdict"
    conceded = {one["requirement"] for one in record["concessions"]}
    assert conceded == {"sealer/lots", "sealer/pot_life", "sealer/induction"}
    lots = next(one for one in record["rounds"][0]["steps"][0]["findings"] if one["requirement"] == "sealer/lots")
    assert lots["concession"] == 0


def test_rework_opens_a_second_round(shop: Shop) -> None:
    painted(shop)
    shop.event("reopen", "vehicle=V-1", "reason=scratch", by="badge-3", minute=20)
    record = shop.record()
    assert [one["verdict"] for one in record["rounds"]] == ["met", "unproven"]
    assert (record["rounds"][1]["reason"], record["job"]["state"], record["verdict"]) == ("scratch", "open", "unproven")


@pytest.mark.parametrize(
    ("kind", "facts", "says"),
    [
        ("step-start", ["vehicle=V-1", "step=varnish"], "'varnish' is not a step of this shop"),
        ("steps", ["vehicle=V-1"], "event 'steps' is not known"),
        ("check", ["vehicle=V-1", "check=wash", "result=fine"], "passed"),
        ("check", ["vehicle=V-1", "check=wash"], "result is missing"),
        ("check", ["vehicle=V-1", "check=wash", "result=passed", "colour=red"], "colour is not a key"),
        ("check", ["vehicle"], "is not key=value"),
        ("check", ["vehicle=V-1", "check=water-test", "result=passed", 'values={"flow": '], "is not JSON"),
        ("check", ["vehicle=V-1", "check=water-test", "result=passed", 'values={"flow": "32"}'], "30 gallon/min"),
        ("note", ["vehicle=V-1"], "needs a text"),
        ("reopen", ["vehicle=V-1"], "needs a reason"),
        ("note", ["vehicle=V-1", "text=x", "id=7"], "is not a UUID"),
        ("load", ["booth=west", "vans=[]"], "'west' is not a booth"),
        ("load", ["booth=south", 'vans=[{"vehicle": "V-1", "probes": {"part-9": "lower"}}]'], "'part-9' is not a point"),
        ("concession", ["vehicle=V-1", "requirement=sealer/lotz", "reason=x"], "'sealer/lotz' is not a requirement"),
        ("concession", ["vehicle=V-8", "requirement=sealer/lots", "reason=x"], "no job was opened for 'V-8'"),
        ("acknowledge", ["alarm=V-1/1/bake/bake_start"], "there is no alarm"),
        ("correction", ["corrects=00000000-0000-4000-8000-000000000000", 'set={"mix": "M"}', "reason=x"], "there is no entry"),
        ("correction", ["corrects=00000000-0000-4000-8000-000000000000", 'set={"limit": "9"}', "reason=x"], "limit"),
        ("note", ["vehicle=V-1", "text=x", "time=3024-01-01T00:00:00Z"], "in the future"),
        ("note", ["vehicle=V-1", "text=x", "time=yesterday"], "RFC 3339"),
    ],
)  # fmt: skip
def test_an_event_that_makes_no_sense_is_refused(shop: Shop, kind: str, facts: list[str], says: str) -> None:
    shop.event("job-open", "vehicle=V-1", "process=patch", minute=-60)
    before = shop("verify", "--json").json["entries"]
    said = shop("event", kind, *facts, "--by", "badge-3")
    assert said.code == 2 and says in said.err and "Traceback" not in said.err
    assert shop("verify", "--json").json["entries"] == before


def test_the_same_event_again_is_one_event(shop: Shop) -> None:
    same = "id=0b1e6c3a-58f5-4c0b-9d0f-3a1d5f1b7e01"
    first = shop.event("job-open", "vehicle=V-1", "process=patch", same)
    assert shop.event("job-open", "vehicle=V-1", "process=patch", same) == first


def test_wide_rows_that_cannot_be_used_are_set_aside(shop: Shop) -> None:
    rest = "98.4,3,22.0,spray"
    rows = [
        "when,air F,rh,fpm,balance,skin,mode,colour",  # line 1: a column that nobody mapped
        f"{at(0)},71.6,50,{rest},red",
        f"{at(1)},nan,50,{rest},red",  # 3
        f"{at(2)},900,50,{rest},red",  # 4: out of range
        f"03.06.2024 08:00,71.6,50,{rest},red",  # 5: not the time format
        f"3024-06-03T13:00:00Z,71.6,50,{rest},red",  # 6: the future
        f"{at(3)},71.6",  # 7: cells missing
        f"{at(4)},warm,50,{rest},red",  # 8
        f"{at(0)},71.6,51,{rest},red",  # 9: contradicts line 2, in its humidity only
    ]
    said = shop("replay", shop.file("bad.csv", rows), "--map", "wide", "--json")
    assert said.code == 0
    assert (said.json["conflicts"], said.json["duplicates"]) == (1, 5)
    status = shop("status", "--json").json["quarantine"]
    assert sum(status["counts"].values()) == said.json["quarantined"] == 7
    assert {"unknown_point", "out_of_range", "bad_time", "future_time", "bad_row"} <= set(status["counts"])
    where = [one["origin"].rpartition("bad.csv:")[2] for one in status["recent"]]
    assert where == ["8", "7", "6", "5", "4", "3", "1"]
    text = shop("status").out
    assert "Set aside as unusable: 7" in text
    assert all(f"bad.csv:{line}:" in text.replace("\n", "") or f"bad.csv:{line}" in text for line in where)
    assert max(map(len, text.splitlines())) <= 80 + len(str(shop.folder)), "only a long path is longer than the terminal"


def test_long_rows_that_cannot_be_used_are_set_aside(shop: Shop) -> None:
    rows = [
        "time;point;value;unit",
        "03.06.2024 08:00:00;south/air-temperature;22,5;degC",
        "03.06.2024 08:00:05;south/air-temperature;72,5;degF",
        "03.06.2024 08:00:10;south/air-temperature;22,5;Pa",  # 4: wrong unit
        "03.06.2024 08:00:15;south/air-temperature;22.5;degC",  # 5: the file has decimal commas
        "03.06.2024 08:00:20;south/warmth;22,5;degC",  # 6: no such point
        "03.11.2024 01:30:00;south/air-temperature;22,5;degC",  # 7: the hour that came twice (US daylight saving time ended)
        "10.03.2024 02:30:00;south/air-temperature;22,5;degC",  # 8: the hour that never was (it began)
        "03.06.2024 08:00:25;south/mode;dancing;",  # 9: no mode of this booth
    ]
    said = shop("replay", shop.file("long.csv", rows), "--map", "long", "--json")
    assert (said.code, said.json["readings"], said.json["quarantined"]) == (0, 2, 6)
    recent = {one["origin"].rpartition(":")[2]: one["reason"] for one in shop("status", "--json").json["quarantine"]["recent"]}
    assert set(recent) == {"4", "5", "6", "7", "8", "9"}
    assert recent["7"] == recent["8"] == "bad_time"
    assert recent["6"] == "unknown_point"


def test_events_out_of_a_file(shop: Shop) -> None:
    common = f'"vehicle": "V-1", "booth": "south", "by": "badge-3", "time": "{at(-60)}"'
    first, second = ("0b1e6c3a-58f5-4c0b-9d0f-3a1d5f1b7e01", "0b1e6c3a-58f5-4c0b-9d0f-3a1d5f1b7e02")
    lines = [
        f'{{"id": "{first}", "event": "job-open", "process": "patch", {common}}}',
        '{"event": "job-open", "vehicle": "V-2"}',
        "not JSON",
        "",
        f'{{"id": "{second}", "event": "check", "check": "wash", "result": "passed", {common}}}',
    ]
    said = shop("replay", "--events", shop.file("events.jsonl", lines), "--json").json
    assert (said["events"], said["quarantined"]) == (2, 2)
    assert shop.record()["checks"][0]["check"] == "wash"


def test_a_redacted_name_is_gone_and_the_journal_still_verifies(shop: Shop) -> None:
    painted(shop)
    note = shop.event("note", "vehicle=V-1", "text=Robin asked for it", by="badge-4", minute=12)
    said = shop("redact", str(note["seq"]), "--name", "text", "--reason", "names a person", "--by", "badge-3")
    assert said.code == 0, said.err
    assert [one["text"] for one in shop.record()["notes"]] == [None]
    assert shop("verify").code == 0
    assert b"Robin asked" not in b"".join(path.read_bytes() for path in (shop.folder / "store").iterdir())
    again = shop("redact", str(note["seq"]), "--name", "colour", "--reason", "x", "--by", "badge-3")
    assert again.code == 2 and "has no text 'colour'; it has: by, text" in again.err
    assert shop("redact", "999", "--name", "by", "--reason", "x", "--by", "badge-3").code == 2


def test_a_job_entered_under_a_process_that_came_later(shop: Shop) -> None:
    """The first configuration in the journal has no such process; the present one stands in."""
    later = shop.config / "processes" / "patch.toml"
    text = later.read_text(encoding="utf-8")
    later.unlink()
    shop.event("note", "vehicle=V-0", "text=hello")
    later.write_text(text, encoding="utf-8")
    shop.event("job-open", "vehicle=V-1", "process=patch", minute=-60)
    assert shop.record()["job"]["process"] == "patch"
    later.unlink()
    said = shop("record", "V-1")
    assert said.code in (1, 2) and "Traceback" not in said.err
