"""One demonstration shift, run once as a user would run it, for every test that reads what it left behind."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.cli.commands import Said, booth

GIVEN_UP_AFTER_S = 900
END = "2026-07-13T19:00:00Z"


@dataclass(frozen=True)
class Demo:
    """What `booth demo` left, and how it went."""

    folder: Path
    verdicts: dict[str, str]
    peak_memory_mb: float

    @property
    def config(self) -> Path:
        return self.folder / "config"

    @property
    def store(self) -> Path:
        return self.folder / "store"

    @property
    def vehicles(self) -> list[str]:
        return sorted(self.verdicts)

    def truth(self) -> dict:
        return json.loads((self.folder / "truth.json").read_text(encoding="utf-8"))

    def record(self, vehicle: str) -> dict:
        return json.loads((self.folder / "documents" / f"{vehicle}.json").read_text(encoding="utf-8"))

    def booth(self, *args: str | Path) -> Said:
        return booth(*args, config=self.config, store=self.store)

    def copy_of_store(self, folder: Path) -> Path:
        """A store to break."""
        return Path(shutil.copytree(self.store, folder / "store"))


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    folder = tmp_path_factory.mktemp("demo") / "out"
    said = folder.with_name("said.json")
    with said.open("wb") as out:
        process = subprocess.Popen([sys.executable, "-m", "booth", "demo", "--json", "--out", str(folder)], stdout=out)
        memory_mb = _ended(process)
    assert process.returncode == 0
    return Demo(folder, json.loads(said.read_text(encoding="utf-8")), memory_mb)


def _ended(process: subprocess.Popen) -> float:
    """The largest resident size in MB that it or any process under it was seen to have.

    Looked at while it runs, since the kernel's own maximum (ru_maxrss) also remembers the test process that it was forked from.
    """
    deadline = time.monotonic() + GIVEN_UP_AFTER_S
    largest = 0.0
    while time.monotonic() < deadline:
        if process.poll() is not None:
            return largest
        largest = max([largest, *(_resident_mb(pid) for pid in _family(process.pid))])
        time.sleep(0.1)
    process.kill()
    raise AssertionError(f"the demonstration did not end within {GIVEN_UP_AFTER_S} s")


def _family(pid: int) -> list[int]:
    try:
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except OSError:  # it ended between two looks
        return []
    return [pid, *(one for child in children for one in _family(int(child)))]


def _resident_mb(pid: int) -> float:
    try:
        name, *lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    except OSError:
        return 0.0
    # A child that is still pytest's own image, between fork and exec, isn't the demonstration's.
    sizes = [int(line.split()[1]) for line in lines if line.startswith("VmRSS:")]
    return sizes[0] / 1024 if sizes and "pytest" not in name else 0.0


@pytest.fixture(autouse=True)
def eighty_columns(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """As an ordinary terminal, and with none of the developer's own settings."""
    monkeypatch.setenv("COLUMNS", "80")
    for name in ("BOOTH_CONFIG", "BOOTH_STORE", "BOOTH_MQTT_PASSWORD"):
        monkeypatch.delenv(name, raising=False)
    yield
