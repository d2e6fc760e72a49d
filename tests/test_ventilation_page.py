"""docs/ventilation.md names every key of the log and of the materials, and its table of velocities is the published one."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from booth.reports.materials import build_materials
from booth.reports.ventilation import build_ventilation
from booth.shop.shop import load_shop, read_files
from booth.store import Draft, Reading, Store
from booth.times import HOUR, SECOND, parse_time

ROOT = Path(__file__).resolve().parent.parent
PAGE = (ROOT / "docs/ventilation.md").read_text(encoding="utf-8")
CASES = {one["id"]: one for one in json.loads((ROOT / "tests/data/check_values.json").read_text(encoding="utf-8"))["cases"]}
START = parse_time("2026-07-13T05:00:00Z")
NAMED_BY_SITE = {"modes_s", "facts", "coatings", "lots"}
"""Keys whose own keys are somebody's names, not ours. (`filters` of a period likewise.)"""


def keys_of(value: object, inside: str = "") -> Iterator[str]:
    if isinstance(value, dict):
        for key, one in value.items():
            if inside not in NAMED_BY_SITE and not (inside == "filters" and isinstance(one, dict | None)):
                yield key
            yield from keys_of(one, key)
    elif isinstance(value, list):
        for one in value:
            yield from keys_of(one)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict, dict]:
    """A log and a list of materials that have something in every place."""
    shop = load_shop(read_files(ROOT / "config"))
    end = START + 3 * HOUR
    with Store.open(tmp_path_factory.mktemp("page"), writer=True, create=True) as store:
        for number, mode in enumerate([1] * 400 + [3] * 50 + [4] * 50):
            time = START + number * 10 * SECOND
            values = {"mode": float(mode), "air-velocity": 0.3, "exhaust-flow": 20.0, "filter-drop": 9.0}
            store.readings.append([Reading(f"north/{name}", time, time, str(one), "", one, 1) for name, one in values.items()])
        grid = {"mode": "spray", "state": "empty", "instrument": "A", "rule": "log-linear", "mean": "1 m/s", "lowest": "1 m/s"}
        for kind, body in (
            ("grid", grid | {"index": "1 m/s"}),
            ("calibration", {"point": "air-velocity", "result": "passed", "valid_until": "2027-01-01T00:00:00Z"}),
            ("review", {"from": "2026-07-01T00:00:00Z", "to": "2026-08-01T00:00:00Z"}),
            ("mix", {"mix": "M", "coating": "two-pack-clear", "volume": "1 L", "lots": {"resin": "R"}}),
            ("purchase", {"product": "p", "volume": "1 L"}),
        ):
            store.journal.append([Draft(kind, {"booth": "north"} | body, START, START, "cli")])
        return build_ventilation(shop, store, "north", START, end, end), build_materials(shop, store, START, end, end)


def test_every_key_is_named(made: tuple[dict, dict]) -> None:
    named = {word for code in re.findall(r"`([^`]+)`", PAGE) for word in re.findall(r"[\w.-]+", code)}
    found = {key for document in made for key in keys_of(document)}
    assert len(found) > 100
    assert not found - named


@pytest.mark.parametrize(("case_id", "row"), [("ven-g10-es", "electrostatic"), ("ven-g10-air50", "air-operated guns")])
def test_the_table_of_velocities_is_the_published_one(case_id: str, row: str) -> None:
    """29 CFR 1910.94(c)(6), table G-10, as WAC 296-62-11019 adopts it."""
    line = next(one for one in PAGE.splitlines() if one.startswith(f"| {row}"))
    numbers = [int(one) for one in re.findall(r"\d+", line.split("|", 3)[3])]
    assert numbers == CASES[case_id]["expected"]


def test_velocities_for_fire_are_the_published_ones() -> None:
    normal, electrostatic = CASES["ven-1910.107-velocity"]["expected"]
    assert re.search(rf"average of {normal} ft/min, {electrostatic} where they are electrostatic", PAGE.replace("\n", " "))


def test_the_share_that_filters_must_catch_and_the_purge_before_drying_are_the_published_ones() -> None:
    share, minutes = CASES["fil-98"]["expected"], CASES["ven-1910.107-j"]["expected"]
    assert f"{share:g} % of the overspray (40 CFR 63.11173(e)(2)(i)" in PAGE and f"for {minutes:g} minutes" in PAGE


def test_it_says_to_defer() -> None:
    text = " ".join(PAGE.split())
    assert "Defer to local regulations and your permit; the strictest applies." in text
