"""Files -> readings and events; what is wrong with a row costs only that row."""

from __future__ import annotations

import json
import tempfile
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from booth.readers.lines import LONGEST_LINE, ReplayError
from booth.readers.received import EventIn, QuarantinedIn, ReadingIn
from booth.readers.refused import REASONS
from booth.readers.replay import read_events, read_table
from booth.readers.table import Column, LongColumns, ReplayMap
from booth.times import HOUR, format_time, parse_time
from tests.readers.points_here import NOON, shop

WIDE = ReplayMap(
    {"air": Column("north/air-temperature"), "air F": Column("south/air-temperature", "degF"), "mode": Column("north/mode")}
)
LONG = ReplayMap(LongColumns())
GERMAN = ReplayMap(
    {"Temp": Column("north/air-temperature")},
    time=("Datum", "Zeit"),
    time_format="%d.%m.%Y %H:%M:%S",
    zone="Europe/Berlin",
    delimiter=";",
    decimal_comma=True,
    skip_rows=2,
    encoding="cp1252",
)


def read(folder: Path, wanted: ReplayMap, text: str | bytes, now: int = NOON) -> list[ReadingIn | QuarantinedIn]:
    path = folder / "log.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return list(read_table(path, wanted, shop(), now))


def used(outcomes: list) -> list[tuple[str, str, str, float]]:
    return [(each.point, each.sent, each.unit, each.value) for each in outcomes if isinstance(each, ReadingIn)]


def test_a_wide_table(tmp_path: Path) -> None:
    """An empty cell is no reading; 68 °F is 20 °C by definition."""
    outcomes = read(tmp_path, WIDE, "time,air,air F,mode\n2026-07-13T12:00:00Z,21.40,68,spray\n2026-07-13T12:00:05Z,,,bake\n")
    assert used(outcomes) == [
        ("north/air-temperature", "21.40", "degC", 21.4),
        ("south/air-temperature", "68", "degF", pytest.approx(20)),
        ("north/mode", "spray", "", 1.0),
        ("north/mode", "bake", "", 4.0),
    ]
    assert len(outcomes) == 4
    assert all(each.arrived == each.time for each in outcomes)
    assert outcomes[3].time == parse_time("2026-07-13T12:00:05Z")


def test_a_long_table(tmp_path: Path) -> None:
    at = "2026-07-13T12:00:00Z"
    rows = f"time,point,value,unit\n{at},north/humidity,55,%\n{at},T-17,70.0,degF\n{at},north/humidity,,\n"
    wanted = ReplayMap(LongColumns(points={"T-17": "north/air-temperature"}))
    outcomes = read(tmp_path, wanted, rows)
    assert used(outcomes)[0] == ("north/humidity", "55", "%", 55.0)
    assert used(outcomes)[1] == ("north/air-temperature", "70.0", "degF", pytest.approx(21.1111111))
    assert [each.reason for each in outcomes[2:]] == ["no_value"]


def test_another_locale(tmp_path: Path) -> None:
    """Decimal comma, semicolons, date and clock apart, local time (CEST is UTC+2), lines before the header, umlauts."""
    text = "Anlage Süd\nexportiert\nDatum;Zeit;Temp\n13.07.2026;14:00:00;21,40\n13.07.2026;14:00:05;1.234\n"
    outcomes = read(tmp_path, GERMAN, text.encode("cp1252"))
    assert used(outcomes) == [("north/air-temperature", "21.40", "degC", 21.4)]
    assert outcomes[0].time == parse_time("2026-07-13T12:00:00Z")
    assert (outcomes[1].reason, outcomes[1].origin) == ("not_a_number", "log.csv:5")


def test_a_column_may_give_the_arrival(tmp_path: Path) -> None:
    wanted = ReplayMap({"air": Column("north/air-temperature")}, arrived="in")
    outcomes = read(
        tmp_path,
        wanted,
        "time,in,air\n2026-07-13T12:00:00Z,2026-07-13T13:00:00Z,20\n2026-07-13T14:00:00Z,2026-07-13T13:00:00Z,20\n",
    )
    assert outcomes[0].arrived - outcomes[0].time == HOUR
    assert outcomes[1].reason == "future_time"


@pytest.mark.parametrize("time_format", ["unix_s", "unix_ms"])
def test_seconds_since_1970(tmp_path: Path, time_format: str) -> None:
    text = {"unix_s": "1783944000.5", "unix_ms": "1783944000500"}[time_format]
    wanted = ReplayMap({"air": Column("north/air-temperature")}, time_format=time_format)
    assert format_time(read(tmp_path, wanted, f"time,air\n{text},20\n")[0].time) == "2026-07-13T12:00:00.500Z"


# US rules (Energy Policy Act of 2005: second Sunday of March, first Sunday of November): the clocks are put forward over
# 02:00-03:00 on 8 March 2026 and were put back over 01:00-02:00 on 2 November 2025. Chicago: UTC-6, in summer UTC-5.
@pytest.mark.parametrize(
    ("local", "fold", "expected"),
    [
        ("2026-03-08 01:59:59", None, "2026-03-08T07:59:59Z"),
        ("2026-03-08 02:00:00", None, "exists"),
        ("2026-03-08 02:59:59", 0, "exists"),
        ("2026-03-08 02:30:00", 1, "exists"),
        ("2026-03-08 03:00:00", None, "2026-03-08T08:00:00Z"),
        ("2025-11-02 00:59:59", None, "2025-11-02T05:59:59Z"),
        ("2025-11-02 01:00:00", None, "came twice"),
        ("2025-11-02 01:30:00", 0, "2025-11-02T06:30:00Z"),
        ("2025-11-02 01:30:00", 1, "2025-11-02T07:30:00Z"),
        ("2025-11-02 02:00:00", None, "2025-11-02T08:00:00Z"),
    ],
)
def test_daylight_saving(tmp_path: Path, local: str, fold: int | None, expected: str) -> None:
    wanted = ReplayMap(
        {"air": Column("north/air-temperature")}, time_format="%Y-%m-%d %H:%M:%S", zone="America/Chicago", fold=fold
    )
    (outcome,) = read(tmp_path, wanted, f"time,air\n{local},20\n")
    if isinstance(outcome, ReadingIn):
        assert outcome.time == parse_time(expected)
    else:
        assert outcome.reason == "bad_time"
        assert expected in outcome.sentence and "America/Chicago" in outcome.sentence


def test_an_offset_in_the_text_needs_no_zone(tmp_path: Path) -> None:
    wanted = ReplayMap({"air": Column("north/air-temperature")}, time_format="%Y-%m-%d %H:%M:%S%z")
    (outcome,) = read(tmp_path, wanted, "time,air\n2025-11-02 01:30:00-0600,20\n")
    assert outcome.time == parse_time("2025-11-02T07:30:00Z")


BAD_ROWS = [
    ("2026-07-13T12:00:00Z,21.4,68", "bad_row", ["3 cells", "expected 4"]),
    ('2026-07-13T12:00:00Z,"21.4,68,spray', "bad_row", ["quotes"]),
    ("13.07.2026,21.4,68,spray", "bad_time", ["13.07.2026", "offset"]),
    ("2026-07-13T18:00:00Z,21.4,,", "future_time", ["3600.0 s"]),
    ("2026-07-13T12:00:00Z,warm,,", "not_a_number", ["north/air-temperature", "warm"]),
    ("2026-07-13T12:00:00Z,NaN,,", "not_a_number", ["NaN"]),
    ("2026-07-13T12:00:00Z,1_0,,", "not_a_number", ["1_0"]),
    ("2026-07-13T12:00:00Z,٢١,,", "not_a_number", ["\\u0662"]),
    ("2026-07-13T12:00:00Z,,999,", "out_of_range", ["999 degF", "-20 to 120 °C"]),
    ("2026-07-13T12:00:00Z,,,paint", "not_a_number", ["paint", "idle"]),
    ("x" * (LONGEST_LINE + 9), "too_large", ["65536"]),
    (b"2026-07-13T12:00:00Z,21.4\xff,,", "not_utf8", ["\\udcff", "utf-8", "encoding"]),
]


@pytest.mark.parametrize(("row", "reason", "words"), BAD_ROWS, ids=[f"{row[1]}-{i}" for i, row in enumerate(BAD_ROWS)])
def test_a_bad_row_costs_only_itself(tmp_path: Path, row: str | bytes, reason: str, words: list[str]) -> None:
    good = b"2026-07-13T11:00:00Z,20,,\n"
    bad = row if isinstance(row, bytes) else row.encode()
    before, refused, after = read(tmp_path, WIDE, b"time,air,air F,mode\n" + good + bad + b"\n\n" + good)
    assert isinstance(before, ReadingIn) and isinstance(after, ReadingIn)
    assert (refused.reason, refused.origin, refused.reader, refused.arrived) == (reason, "log.csv:3", "replay", NOON)
    assert refused.payload[:60] == bad[:60]
    assert refused.sentence.startswith("log.csv:3: ")
    assert [word for word in words if word not in refused.sentence] == []


def test_a_bad_cell_costs_only_itself(tmp_path: Path) -> None:
    outcomes = read(tmp_path, WIDE, "time,air,air F,mode\n2026-07-13T12:00:00Z,NaN,68,spray\n")
    assert [getattr(each, "reason", each.point if isinstance(each, ReadingIn) else "") for each in outcomes] == [
        "not_a_number",
        "south/air-temperature",
        "north/mode",
    ]


def test_an_unknown_point_and_a_wrong_unit_in_a_long_table(tmp_path: Path) -> None:
    rows = "time,point,value,unit\n2026-07-13T12:00:00Z,north/humidty,55,%\n2026-07-13T12:00:00Z,north/humidity,55,Pa\n"
    unknown, wrong = read(tmp_path, LONG, rows)
    assert unknown.reason == "unknown_point" and "north/humidity" in unknown.sentence
    assert wrong.reason == "wrong_unit" and "'Pa'" in wrong.sentence


def test_a_column_that_is_not_mapped_is_reported_once(tmp_path: Path) -> None:
    wanted = ReplayMap({"air": Column("north/air-temperature")})
    first, second = read(tmp_path, wanted, "\ufefftime,air,battery\n2026-07-13T12:00:00Z,20,99\n")  # with a byte-order mark
    assert (first.reason, first.origin) == ("unknown_point", "log.csv:1")
    assert "'battery'" in first.sentence
    assert isinstance(second, ReadingIn)


@pytest.mark.parametrize(
    ("wanted", "text", "words"),
    [
        (WIDE, "", ["log.csv", "no header"]),
        (WIDE, "time;air\n", ["log.csv:1", "no column 'air', 'air F', 'mode'", "the header has 'time;air'", "delimiter"]),
        (WIDE, "time,air,air,mode\n", ["'air' comes twice"]),
        (WIDE, b"time,\xff\n", ["log.csv:1"]),
        (ReplayMap({"air": Column("north/airtemp")}), "time,air\n", ["no point 'north/airtemp'", "'north/air-temperature'"]),
        (ReplayMap({}, time_format="%d.%m.%Y"), "time\n", ["no offset", "America/Chicago"]),
        (ReplayMap({}, time_format="%d.%m.%Y", zone="Middle/Earth"), "time\n", ["Middle/Earth", "IANA"]),
        (ReplayMap({}, time_format="%d.%m.%Y", zone="../etc"), "time\n", ["../etc", "IANA"]),
        (ReplayMap({}, time_format="%d %Q", zone="UTC"), "time\n", ["%Q", "rfc3339"]),
        (ReplayMap({}, time_format="%d %d", zone="UTC"), "time\n", ["%d %d"]),
        (ReplayMap({}, delimiter="--"), "time\n", ["'--'", "one character"]),
        (ReplayMap({}, encoding="utf-16"), "time\n", ["utf-16", "'utf-8' or 'cp1252'"]),
        (ReplayMap({}, encoding="klingon"), "time\n", ["klingon"]),
    ],
)
def test_what_can_not_be_read_at_all(tmp_path: Path, wanted: ReplayMap, text: str | bytes, words: list[str]) -> None:
    with pytest.raises(ReplayError) as caught:
        read(tmp_path, wanted, text)
    assert [word for word in words if word not in str(caught.value)] == []


def test_no_such_file(tmp_path: Path) -> None:
    with pytest.raises(ReplayError, match="gone.csv: No such file"):
        list(read_table(tmp_path / "gone.csv", WIDE, shop(), NOON))


cells = st.sampled_from(["21.4", "68", "spray", "", '"', "NaN", "1e999", "2026-07-13T12:00:00Z"]) | st.text(max_size=6)
rows = st.lists(cells, min_size=1, max_size=6).map(",".join).map(str.encode) | st.binary(max_size=40)


@settings(max_examples=500, deadline=None)
@given(st.lists(rows, max_size=4))
def test_no_row_raises(lines: list[bytes]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        outcomes = read(Path(folder), WIDE, b"time,air,air F,mode\n" + b"\n".join(lines))
    for each in outcomes:
        assert isinstance(each, ReadingIn) or each.reason in REASONS


def test_events(tmp_path: Path) -> None:
    good = {"booth": "north", "event": "release", "vehicle": "TV-4101", "by": "badge-03", "time": "2026-07-13T12:00:00Z"}
    good["id"] = "6f1c2a8e-3b0d-4c57-9a44-0d5b7e2f9c11"
    lines = [good, good | {"booth": "west"}, good | {"event": "paint"}, good | {"time": "2026-07-13T18:00:00Z"}, [1]]
    path = tmp_path / "events.jsonl"
    path.write_text("\n\n".join(json.dumps(each) for each in lines) + "\n{", encoding="utf-8")
    first, *bad = read_events(path, shop(), NOON)
    assert isinstance(first, EventIn)
    assert (first.booth, first.event, first.origin) == ("north", good, "events.jsonl:1")
    assert first.arrived == first.time == parse_time("2026-07-13T12:00:00Z")
    assert [(each.origin, each.reason) for each in bad] == [
        ("events.jsonl:3", "bad_event"),
        ("events.jsonl:5", "bad_event"),
        ("events.jsonl:7", "future_time"),
        ("events.jsonl:9", "bad_event"),
        ("events.jsonl:10", "not_json"),
    ]
    assert "'west'" in bad[0].sentence and "mix-room, north, south" in bad[0].sentence
    assert Counter(each.reader for each in bad) == {"replay": 5}
