"""Whatever a user gets wrong ends in a sentence and exit code 2, never in a traceback."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from booth.store import Store
from tests.cli.commands import booth


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A working folder with a configuration, a store with one note in it, and things that are neither."""
    monkeypatch.chdir(tmp_path)
    assert booth("init", "config").code == 0
    assert booth("event", "note", "vehicle=V-1", "text=hello", "--by", "badge-3").code == 0
    Path("file").write_text("just text\n", encoding="utf-8")
    Path("empty").mkdir()
    Path("full").mkdir()
    Path("full/booth.sqlite").write_text("no database\n" * 100, encoding="utf-8")
    broken = Path("broken")
    booth("init", "broken")
    (broken / "site.toml").write_text('name = "X\n', encoding="utf-8")
    (broken / "coatings" / "two-pack-clear.toml").write_text("wet = yes\n", encoding="utf-8")
    return tmp_path


SPAN = "--from 2026-07-13T00:00:00Z --to 2026-07-14T00:00:00Z"

WRONG = [
    # command, what its sentence names
    ("paint", "No such command"),
    ("status --fast", "No such option"),
    ("record", "Missing argument"),
    ("record V-1 --format docx", "docx"),
    ("record V-1 --paper a0", "a0"),
    ("record V-1", "no job was opened for 'V-1'"),
    ("record V-1 --at now", "'now' is not an RFC 3339 time"),
    ("record V-1 --known-by 2026-07-13", "'2026-07-13' is not an RFC 3339 time"),
    ("status --config empty", "booth init"),
    ("status --config nowhere", "booth init"),
    ("check --config file", "booth init"),
    ("check --config broken", "site.toml"),
    ("check --config broken", "coatings/two-pack-clear.toml"),
    ("status --config broken", "coatings/two-pack-clear.toml"),
    ("run --config broken", "site.toml"),
    ("event note vehicle=V-1 text=x --config broken", "site.toml"),
    ("status --store nowhere", "there is no store here"),
    ("status --store file", "file"),
    ("status --store full", "not an SQLite database"),
    ("record V-1 --store empty", "there is no store here"),
    ("verify --store nowhere", "there is no store here"),
    ("trace --near V-1 --store nowhere", "there is no store here"),
    ("event note vehicle=V-1 text=x --store file", "file"),
    ("replay --events file --store file", "file"),
    ("redact 1 --name by --reason x --by y --store nowhere", "there is no store here"),
    ("replay", "say what to read"),
    ("replay file", "--map"),
    ("replay nowhere.csv --map wide", "nowhere.csv"),
    ("replay empty --map wide", "empty"),
    ("replay file --map wide", "file:1"),
    ("replay file --map deep", "wide"),
    ("replay --events nowhere.jsonl", "nowhere.jsonl"),
    ("verify nowhere.json", "nowhere.json"),
    ("verify file", "not a paint record"),
    ("verify empty", "empty"),
    ("verify --head 12", "64 hexadecimal digits"),
    ("trace", "--lot"),
    ("trace --lot A --booth north", "--lot"),
    ("trace --near V-9", "no job was opened for 'V-9'"),
    ("trace --booth north --from soon", "'soon' is not an RFC 3339 time"),
    ("trace --lot A", "'A' is no lot that any mix names; nearest: none"),
    ("trace --booth nroth", "'nroth' is no booth that a van was ever loaded into"),
    ("trace --lot A --from 2026-07-13T00:00:00Z", "belong to --booth"),
    (f"rejudge --process nowhere.toml {SPAN}", "nowhere.toml"),
    (f"rejudge --process file {SPAN}", "file: (the whole file): this is not TOML"),
    (f"rejudge --process config/site.toml {SPAN}", "config/site.toml"),
    ("rejudge --process file --from 2026-07-14T00:00:00Z --to 2026-07-13T00:00:00Z", "is not before"),
    ("run --broker 1883", "HOST:PORT"),
    ("run --clock sundial", "system or tick"),
    ("init config", "not empty"),
    ("init file", "file"),
    ("init file/deeper", "file"),
    ("demo", "--out"),
    ("demo --out file", "file"),
    ("demo --out file/deeper", "file"),
    ("demo --out x --seed one", "--seed"),
    ("redact 99 --name by --reason x --by y", "there is no journal entry 99"),
    ("redact two --name by --reason x --by y", "seq"),
    ("redact 2 --name by --reason x", "--by"),
    ("event", "Missing argument"),
    ("event dance", "'dance' is not known"),
    ("event note vehicle=V-1", "needs a text"),
    ("event release vehicle=V-1", "--by"),
    ("event step-start vehicle=V-1 step=clear-9", "'clear-9' is not a step"),
    ("air --humidity 50", "--temperature"),
    ("air --temperature 22 --humidity 50", "22 degC"),
    ("air --temperature 22_m --humidity 50", "22 degC"),
    ("air --temperature 3_delta_degC --humidity 50", "temperature"),
    ("air --temperature 22_degC --humidity wet", "--humidity"),
    ("air --temperature 22_degC --humidity 0", "outside"),
    ("air --temperature 22_degC --humidity 106", "outside"),
    ("air --temperature 22_degC --humidity inf", "outside"),
    ("air --temperature 22_degC --humidity nan", "outside"),
    ("air --temperature 400_degC --humidity 50", "outside"),
    ("air --temperature -60_degC --humidity 50", "outside"),
    ("air --temperature 22_degC --humidity 50 --elevation 1e9_m", "outside"),
    ("air --temperature 22_degC --humidity 50 --pressure 1_Pa", "outside"),
    ("air --temperature 22_degC --humidity 50 --pressure 22_degC", "pressure"),
    ("air --temperature 22_degC --humidity 50 --pressure 84_kPa --elevation 0_m", "not both"),
]


@pytest.mark.parametrize(("command", "names"), WRONG, ids=[f"{number:02d} {words}" for number, (words, _) in enumerate(WRONG)])
def test_wrong_use(here: Path, command: str, names: str) -> None:
    said = booth(*(word.replace("_", " ") for word in command.split()))
    assert "Traceback" not in said.err
    assert (said.code, said.out) == (2, "")
    assert names in " ".join(said.err.split())


def test_all_mistakes_of_a_configuration_at_once_as_json(here: Path) -> None:
    said = booth("check", "--json", "--config", "broken")
    assert said.code == 2 and not said.json["ok"]
    assert {one["file"] for one in said.json["problems"]} >= {"site.toml", "coatings/two-pack-clear.toml"}


def test_a_second_logger_is_refused(here: Path) -> None:
    with Store.open("store", writer=True):
        for command in (["run", "--broker", "127.0.0.1:1"], ["replay", "--events", "file"]):
            said = booth(*command)
            assert said.code == 2 and f"another logger (process {os.getpid()}) is writing here" in said.err


def test_a_folder_that_cannot_be_written(here: Path) -> None:
    """The kernel's own folder takes no files, not even root's."""
    said = booth("demo", "--out", "/proc/demo")
    assert said.code == 2 and "/proc/demo" in said.err and "Traceback" not in said.err


def test_no_command_shows_the_help(here: Path) -> None:
    said = booth()
    assert "Usage:" in said.out + said.err and "Traceback" not in said.err


def test_as_a_program(here: Path) -> None:
    """The console script's way in, without this process's helper."""
    done = subprocess.run([sys.executable, "-m", "booth", "record", "V-1"], capture_output=True, text=True)
    assert done.returncode == 2 and "no job was opened for 'V-1'" in done.stderr and "Traceback" not in done.stderr


HEAVY = ("pint", "pandas", "influxdb_client", "typst", "rich", "numpy", "pydantic")


def test_help_is_light() -> None:
    """`booth --help` imports nothing that takes long."""
    program = (
        "import sys; sys.argv = ['booth', '--help']\n"
        "from booth.cli import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert "Commands:" in done.stdout
    assert done.stderr.strip() == "[]"
