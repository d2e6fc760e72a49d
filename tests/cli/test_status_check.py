"""`booth status --check`: what a monitoring system is told, and its exit code."""

from __future__ import annotations

from pathlib import Path

import pytest
from commands import booth

from booth.cli.status_check import complaints
from booth.store import Reading, Store
from booth.times import MINUTE, SECOND, format_time

CONFIG = Path(__file__).resolve().parents[2] / "config"
HEARD = 1_783_944_000_000_000


def status(**changes: object) -> dict:
    return {"at": format_time(HEARD), "booths": {"north": {"last_heard": format_time(HEARD)}}, "mirror": None} | changes


def test_all_is_well() -> None:
    assert list(complaints(status())) == []


@pytest.mark.parametrize(("minutes", "wrong"), [(10, False), (11, True)])
def test_a_silence_of_every_booth(minutes: int, wrong: bool) -> None:
    found = list(complaints(status(at=format_time(HEARD + minutes * MINUTE))))
    assert bool(found) is wrong
    assert not wrong or "no booth was heard for 11 min" in found[0]


def test_one_booth_that_speaks_is_enough() -> None:
    booths = {"north": {"last_heard": None}, "south": {"last_heard": format_time(HEARD)}}
    assert list(complaints(status(booths=booths))) == []
    assert "ever" in next(complaints(status(booths={"north": {"last_heard": None}})))


@pytest.mark.parametrize(("seconds", "wrong"), [(3600.0, False), (3700.0, True)])
def test_a_mirror_far_behind_with_its_reason(seconds: float, wrong: bool) -> None:
    found = list(complaints(status(mirror={"seconds_behind": seconds, "problem": "no answer from the server"})))
    assert bool(found) is wrong
    assert not wrong or ("1 h 01 min" in found[0] and "no answer from the server" in found[0])


def test_exit_codes_of_the_command(tmp_path: Path) -> None:
    where = {"config": CONFIG, "store": tmp_path}
    assert booth("status", "--check", **where).code == 2  # there is no store
    with Store.open(tmp_path, writer=True) as store:
        store.readings.append([Reading("north/air-temperature", HEARD, HEARD, "23.0", "degC", 23.0, 1)])
    well = booth("status", "--check", "--at", format_time(HEARD + SECOND), **where)
    assert (well.code, well.out) == (0, "all is heard\n")
    silent = booth("status", "--check", "--json", "--at", format_time(HEARD + 20 * MINUTE), **where)
    assert silent.code == 1
    assert "no booth was heard for 20 min" in silent.json["wrong"][0]
