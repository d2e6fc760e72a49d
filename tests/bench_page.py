"""Put the figures of bench.json into docs/performance.md, with the machine they are from: `python -m tests.bench_page`."""

from __future__ import annotations

import json
import platform
import re
import sqlite3
import subprocess
import sys
from datetime import date
from os import cpu_count
from pathlib import Path

PAGE = Path(__file__).resolve().parents[1] / "docs" / "performance.md"
BEGIN, END = "<!-- from bench.json -->\n", "<!-- end -->"
HEADER = "| figure | measured | limit, of the same run | ratio | goal | |\n| --- | --- | --- | --- | --- | --- |\n"


def table(figures: list[dict]) -> str:
    """Rows of the page, one for each figure."""
    return HEADER + "".join(_row(one) for one in figures)


def _row(one: dict) -> str:
    limit = "" if one["limit"] is None else f"{_number(one['limit'])} {one['unit']}"
    ratio = "" if one["ratio"] is None else f"{one['ratio']:.3g}"
    mark = {True: "reached", False: "**not reached**", None: ""}[one["reached"]]
    return f"| {one['name']} | {_number(one['value'])} {one['unit']} | {limit} | {ratio} | {one['goal']} | {mark} |\n"


def _number(value: float) -> str:
    return f"{value:,.0f}" if abs(value) >= 1000 else f"{value:.3g}"


def machine() -> str:
    """In one sentence."""
    names = re.findall(r"^model name\s*: (.+)$", Path("/proc/cpuinfo").read_text(encoding="utf-8"), re.MULTILINE)
    broker = subprocess.run(["mosquitto", "-h"], capture_output=True, text=True, env={"PATH": "/usr/sbin:/usr/bin"}).stdout
    version = re.search(r"version ([\d.]+)", broker)
    programs = f"Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}, Mosquitto {version[1] if version else '?'}"
    processor = names[0] if names else platform.machine()
    return f"Measured {date.today()}: {cpu_count()} cores ({processor}), {platform.system()}, {programs}.\n"


def main() -> None:
    """Rewrite what stands between the marks. Exit code 1 where there is no bench.json."""
    source = Path("bench.json")
    if not source.is_file():
        sys.exit("there is no bench.json here; run 'make bench' first")
    figures = json.loads(source.read_text(encoding="utf-8"))
    page = PAGE.read_text(encoding="utf-8")
    before, after = page.split(BEGIN)[0], page.split(END)[1]
    PAGE.write_text(f"{before}{BEGIN}\n{machine()}\n{table(figures)}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
