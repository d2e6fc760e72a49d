"""What the demonstration leaves: documents that stand by themselves, and commands that agree with them."""

from __future__ import annotations

import json
import re
import sqlite3
from pathlib import Path

import pypdf
import pytest

from tests.cli.commands import booth
from tests.cli.conftest import END, Demo
from tests.cli.test_demo_truth import findings
from tests.test_docs import undocumented

pytestmark = pytest.mark.xdist_group("demo")

VANS = ["TV-4101", "TV-4102", "TV-4103", "TV-4104", "TV-4105"]
REFERENCE = re.compile(r"""(?:src|href)\s*=\s*["'](?!#|data:)|url\((?!["']?data:|#)|@import|https?://(?!www\.w3\.org/)""", re.I)


def letters(text: str) -> str:
    """A text without what line breaking and hyphenation do to it."""
    return re.sub(r"[\s\u00ad\u2010\u2011-]+", "", text)


@pytest.mark.parametrize("vehicle", VANS)
def test_pdf_says_every_finding(demo: Demo, vehicle: str) -> None:
    pages = pypdf.PdfReader(demo.folder / "documents" / f"{vehicle}.pdf").pages
    text = letters("".join(page.extract_text() for page in pages))
    missing = [one["sentence"] for one in findings(demo.record(vehicle)) if letters(one["sentence"]) not in text]
    assert not missing


@pytest.mark.parametrize("vehicle", VANS)
def test_html_refers_to_nothing_outside(demo: Demo, vehicle: str) -> None:
    text = (demo.folder / "documents" / f"{vehicle}.html").read_text(encoding="utf-8")
    assert len(text) > 20_000
    assert [match[0] for match in REFERENCE.finditer(text)] == []


@pytest.mark.parametrize("planted", ['<img src="a.png">', '<a href="https://example.org">', "url(x.woff)", "@import 'x'"])
def test_a_reference_would_be_found(planted: str) -> None:
    assert REFERENCE.search(planted)


@pytest.mark.parametrize("vehicle", VANS)
def test_the_json_document_is_what_the_command_prints(demo: Demo, vehicle: str) -> None:
    said = demo.booth("record", vehicle, "--json", "--at", END)
    assert said.json == demo.record(vehicle)
    assert said.code == (0 if demo.verdicts[vehicle] == "met" else 1)


@pytest.mark.parametrize("form", ["pdf", "html", "json", "csv"])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_each_form_on_each_paper(demo: Demo, form: str, paper: str, tmp_path: Path) -> None:
    path = tmp_path / f"record.{form}"
    said = demo.booth("record", "TV-4102", "--format", form, "--out", path, "--paper", paper, "--at", END)
    assert (said.code, said.err, said.out.strip()) == (0, "", str(path))
    if form == "pdf":
        box = pypdf.PdfReader(path).pages[0].mediabox
        points = {"a4": (595.28, 841.89), "letter": (612, 792)}[paper]  # ISO 216; ANSI/ASME Y14.1 A, in 1/72 in
        assert (float(box.width), float(box.height)) == pytest.approx(points, abs=0.5)
    elif form == "json":
        assert json.loads(path.read_text(encoding="utf-8")) == demo.record("TV-4102")
    else:
        assert "TV-4102" in path.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "args",
    [
        ["record", "TV-4104", "--at", END],
        ["status", "--at", END],
        ["status", "--at", "2026-07-13T16:03:00Z"],
        ["status", "--at", "2026-07-14T14:00:00Z"],
        ["verify"],
    ],
    ids=" ".join,
)
def test_the_text_fits_eighty_columns(demo: Demo, args: list[str]) -> None:
    lines = demo.booth(*args).out.splitlines()
    assert lines and max(map(len, lines)) <= 80


def test_the_other_texts_fit_eighty_columns(demo: Demo) -> None:
    for said in (booth("trace", "--near", "TV-4103", store=demo.store), booth("check", config=demo.config)):
        assert said.code == 0 and max(map(len, said.out.splitlines())) <= 80


def test_record_says_why(demo: Demo) -> None:
    said = demo.booth("record", "TV-4103", "--at", END)
    assert said.code == 1
    assert "MISSED, closed" in said.out and "too late" in said.out
    assert "not a safety interlock" in " ".join(said.out.split())


def test_nothing_is_proven_before_it_was_painted(demo: Demo) -> None:
    early = demo.booth("record", "TV-4103", "--json", "--known-by", "2026-07-13T13:50:00Z", "--at", END)
    assert early.code == 1
    assert early.json["verdict"] != "met"
    proven = {one["kind"] for one in findings(early.json) if one["verdict"] == "met" and one["evidence_sha256"]}
    assert not proven & {"relative_humidity", "dew_point_margin", "dwell", "peak"}
    assert early.json["known_by"] == "2026-07-13T13:50:00.000Z"


def test_as_of_a_moment_nothing_later_is_known(demo: Demo) -> None:
    """At 11:03 local the coat was done, the bake not begun, and its window about to close."""
    then = demo.booth("record", "TV-4103", "--json", "--at", "2026-07-13T16:03:00Z").json
    started = [step["step"] for step in then["rounds"][0]["steps"] if step["start"] is not None]
    assert started[-1] == "clear-2" and then["job"]["state"] == "open"
    (alarm,) = then["alarms"]
    assert alarm["priority"] == "warning" and alarm["raised"] == alarm["warned"]
    said = demo.booth("record", "TV-4103", "--at", "2026-07-13T12:00:00Z")
    assert said.code == 2 and "no job was opened for 'TV-4103' by 2026-07-13T12:00:00.000Z" in said.err


def test_unknown_vehicle(demo: Demo) -> None:
    said = demo.booth("record", "TV-9999")
    assert said.code == 2
    assert all(vehicle in said.err for vehicle in VANS)


def test_status_of_the_running_shift(demo: Demo) -> None:
    found = demo.booth("status", "--json", "--at", "2026-07-13T16:03:00Z").json
    assert set(found) == {
        "at", "site", "booths", "open_jobs", "closed_jobs", "alarms", "instruments", "quarantine", "journal", "mirror",
    }  # fmt: skip
    assert found["booths"]["south"]["vans"] == ["TV-4103"]
    assert set(found["booths"]["south"]["points"]["humidity"]) == {"text", "time", "age_s", "usable"}
    job = next(one for one in found["open_jobs"] if one["vehicle"] == "TV-4103")
    (window,) = (one for one in job["windows"] if one["requirement"] == "bake/bake_start")
    real = next(one for one in findings(demo.record("TV-4103")) if one["kind"] == "bake_start")["window"]
    assert (window["earliest"], window["latest"]) == (real["earliest"], real["latest"])
    assert {one["priority"] for one in found["alarms"] if one["vehicle"] == "TV-4103"} == {"warning"}


def test_status_the_day_after(demo: Demo) -> None:
    said = " ".join(demo.booth("status", "--at", "2026-07-14T14:00:00Z").out.split())
    assert "TV-4105 in south: open since 13 Jul 11:40, last heard 13 Jul 14:00" in said
    assert "North booth (spray-and-bake): empty; last heard 13 Jul 14:00" in said
    assert "not before" not in said, "a window can't be told when nothing is heard"


def test_trace(demo: Demo) -> None:
    lots = {one["component"]: one["lot"] for one in demo.record("TV-4103")["lots"] if one["coating"] == "two-pack-clear"}
    shared = booth("trace", "--lot", lots["hardener"], "--json", store=demo.store).json["vehicles"]
    assert [one["vehicle"] for one in shared] == ["TV-4101", "TV-4102", "TV-4103"]
    for slip, right in (("lot", lots["hardener"].lower()), ("booth", "nroth")):
        said = booth("trace", f"--{slip}", right, store=demo.store)
        assert said.code == 2 and (lots["hardener"] if slip == "lot" else "north") in said.err
    north = booth("trace", "--booth", "north", "--json", store=demo.store).json["vehicles"]
    assert [one["vehicle"] for one in north] == ["TV-4101", "TV-4104"]
    early = ["--from", "2026-07-13T10:00:00Z", "--to", "2026-07-13T13:00:00Z"]
    assert [
        one["vehicle"] for one in booth("trace", "--booth", "north", *early, "--json", store=demo.store).json["vehicles"]
    ] == ["TV-4101"]
    near = {
        one["vehicle"]: " ".join(one["because"])
        for one in booth("trace", "--near", "TV-4103", "--json", store=demo.store).json["vehicles"]
    }
    assert lots["hardener"] in near["TV-4102"] and "same shift in south" in near["TV-4105"]
    assert lots["hardener"] not in near["TV-4104"]


def test_verify_finds_the_store_whole(demo: Demo) -> None:
    found = demo.booth("verify", "--json")
    assert found.code == 0 and found.json["ok"] and found.json["evidence_checked"] > 30


def patched(store: Path, *statements: str) -> None:
    """What somebody with another program would do: the triggers that forbid it are dropped first."""
    with sqlite3.connect(store / "booth.sqlite") as database:
        triggers = [name for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")]
        for name in triggers:
            database.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            assert database.execute(statement).rowcount == 1
    database.close()


def test_one_byte_of_the_journal_changed(demo: Demo, tmp_path: Path) -> None:
    store = demo.copy_of_store(tmp_path)
    patched(store, "UPDATE journal SET bytes = CAST(replace(CAST(bytes AS TEXT), 'TV-4103', 'TV-4203') AS BLOB) WHERE seq = "
                   "(SELECT min(seq) FROM journal WHERE kind = 'job-open' AND vehicle = 'TV-4103')")  # fmt: skip
    with sqlite3.connect(store / "booth.sqlite") as database:
        (seq,) = database.execute("SELECT min(seq) FROM journal WHERE kind = 'job-open' AND vehicle = 'TV-4103'").fetchone()
    database.close()
    found = booth("verify", config=demo.config, store=store)
    assert found.code == 1 and found.err == ""
    assert re.search(rf"\b[Ee]ntry {seq}\b", found.out) and "broken" in found.out


def test_one_reading_changed(demo: Demo, tmp_path: Path) -> None:
    store = demo.copy_of_store(tmp_path)
    patched(store, "UPDATE reading SET value = value + 0.1 WHERE ordinal = 0 AND time = 1783958400000000 AND point = "
                   "(SELECT id FROM point WHERE text = 'north/humidity')")  # fmt: skip
    found = booth("verify", config=demo.config, store=store)
    assert found.code == 1
    assert "evidence of TV-4104 base-1 (entry" in " ".join(found.out.split())


def test_a_head_noted_earlier(demo: Demo) -> None:
    (old,) = {demo.record("TV-4102")["journal"]["head"]}
    assert demo.booth("verify", "--head", old).code == 0
    unknown = demo.booth("verify", "--head", "0123456789abcdef" * 4)
    assert unknown.code == 1 and "0123456789abcdef" in unknown.out
    assert demo.booth("verify", "--head", "abc").code == 2


@pytest.mark.parametrize("vehicle", VANS)
def test_a_record_agrees_with_the_store(demo: Demo, vehicle: str) -> None:
    assert demo.booth("verify", demo.folder / "documents" / f"{vehicle}.json").code == 0


def changed(record: dict, what: str) -> dict:
    finding = next(one for one in findings(record) if one["kind"] == "bake_start")
    step = next(one for one in record["rounds"][0]["steps"] if one["step"] == "bake")
    changes = {
        "verdict": lambda: finding.update(verdict="met"),
        "as issued": lambda: finding["as_issued"].update(verdict="met"),
        "head": lambda: record["journal"].update(head="ab" * 32),
        "lot": lambda: record["lots"][0].update(lot="H-1"),
        "time": lambda: step.update(start="2026-07-13T16:00:00.000Z"),
        "left out": lambda: record["alarms"].clear(),
        "vehicle": lambda: record.update(vehicle="TV-1"),
    }
    changes[what]()
    return record


@pytest.mark.parametrize(
    ("what", "names"),
    [
        ("verdict", "findings[bake/bake_start].verdict"),
        ("as issued", "findings[bake/bake_start].as_issued.verdict"),
        ("head", "journal head"),
        ("lot", "lots"),
        ("time", "steps[bake].start"),
        ("left out", "alarms"),
        ("vehicle", "'TV-1'"),
    ],
)
def test_a_record_that_was_changed(demo: Demo, what: str, names: str, tmp_path: Path) -> None:
    document = tmp_path / "record.json"
    document.write_text(json.dumps(changed(demo.record("TV-4103"), what)), encoding="utf-8")
    found = demo.booth("verify", document)
    assert found.code == 1 and found.err == ""
    assert names in " ".join(found.out.split())


def test_a_second_demo_leaves_the_first_alone(demo: Demo) -> None:
    said = booth("demo", "--out", demo.folder)
    assert said.code == 2 and "holds a demo already" in said.err


@pytest.mark.parametrize(
    ("change", "vehicle", "before", "after"),
    [
        ('minimum = "4"', "TV-4102", "met", "missed"),  # more fresh air than was blown
        ('step = "inspect"', "TV-4105", "missed", "missed"),
    ],
)
def test_rejudge(demo: Demo, tmp_path: Path, change: str, vehicle: str, before: str, after: str) -> None:
    text = (demo.config / "processes" / "standard.toml").read_text(encoding="utf-8")
    replaced = {'minimum = "4"': 'minimum = "400"', 'step = "inspect"': 'step = "final-inspect"'}[change]
    assert change in text
    trial = tmp_path / "standard-v3.toml"
    trial.write_text(text.replace(change, replaced), encoding="utf-8")
    day = ["--from", "2026-07-13T00:00:00Z", "--to", "2026-07-14T00:00:00Z"]
    head = demo.booth("verify", "--json").json["head"]
    said = demo.booth("rejudge", "--process", trial, *day, "--json")
    assert said.code == 0
    found = {one["vehicle"]: one for one in said.json["vehicles"]}
    assert set(found) == {"TV-4102", "TV-4103", "TV-4105"}, "the vans of that body type"
    assert (found[vehicle]["verdict"], found[vehicle]["verdict_under_process"]) == (before, after)
    names = {one["requirement"] for one in found[vehicle]["changes"]}
    assert any(name.startswith(("purge/", "final-inspect/", "inspect/")) for name in names)
    assert demo.booth("verify", "--json").json["head"] == head, "nothing was changed"
    text = demo.booth("rejudge", "--process", trial, *day).out
    assert f"{vehicle}  {before} → {after}" in text and "nothing was changed" in text


def test_rejudge_outside_the_period(demo: Demo) -> None:
    file = demo.config / "processes" / "standard.toml"
    said = demo.booth("rejudge", "--process", file, "--from", "2026-07-14T00:00:00Z", "--to", "2026-07-15T00:00:00Z", "--json")
    assert (said.code, said.json["vehicles"]) == (0, [])


@pytest.mark.parametrize("vehicle", VANS)
def test_every_key_of_the_record_is_documented(demo: Demo, vehicle: str) -> None:
    assert undocumented(demo.record(vehicle)) == set()
