"""Readings deleted for good: only whole hours that nobody needs, each told by the journal, and nothing else is touched.

The expected hash is computed here from the sentence in Readings.evidence_sha256, with the standard library's JSON alone.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from random import Random

import pytest

from booth.store import Draft, Reading, Store, StoreError
from booth.store.pruning import Stretch
from booth.times import HOUR, SECOND

ROOT = Path(__file__).resolve().parents[2]
H = 1_783_900_800_000_000  # 2026-07-13T00:00:00Z
DAY = 24 * HOUR
AIR, PART = "north/air", "south/part"


def fill(store: Store, point: str, hours: range, every_s: int = 60) -> None:
    times = [H + hour * HOUR + second * SECOND for hour in hours for second in range(0, 3600, every_s)]
    store.readings.append(
        [Reading(point, time, time + 7, f"{time // SECOND % 50}", "degC", float(time // SECOND % 50), 1) for time in times]
    )


def writer(store: Store) -> Callable[[Stretch], int]:
    def write(one: Stretch) -> int:
        body = {"point": one.point, "count": one.count, "sha256": one.sha256, "summaries_sha256": one.summaries_sha256}
        return store.journal.append([Draft("retention", body, one.start, one.end, "test")])[0].entry.seq

    return write


def nothing_needed(_point: str, _start: int, _end: int) -> bool:
    return False


def prune(store: Store, before: int, needed: Callable[[str, int, int], bool] = nothing_needed) -> list[Stretch]:
    store.readings.seal(before)
    return [stretch for stretch, _ in store.readings.pruning.prune(before, needed, writer(store))]


def test_what_is_needed_stays_and_the_rest_goes_with_a_hash(store: Store) -> None:
    fill(store, AIR, range(0, 30))
    fill(store, PART, range(0, 30))
    lines = b"".join(
        json.dumps([AIR, one.time, one.sent, one.unit, int(one.value), one.quality], separators=(",", ":")).encode() + b"\n"
        for one in store.readings.rows(AIR, H, H + 8 * HOUR)
    )
    kept = list(store.readings.rows(AIR, H + 8 * HOUR, 2**62))

    def needed(point: str, start: int, end: int) -> bool:
        return point == PART or (start < H + 10 * HOUR and end > H + 8 * HOUR)

    done = prune(store, H + 20 * HOUR, needed)
    assert [(one.point, one.start, one.end) for one in done] == [(AIR, H, H + 8 * HOUR), (AIR, H + 10 * HOUR, H + 20 * HOUR)]
    assert done[0].sha256 == hashlib.sha256(lines).hexdigest()
    assert (done[0].count, done[1].count) == (480, 600)
    assert list(store.readings.rows(AIR, 0, 2**62)) == [one for one in kept if not H + 10 * HOUR <= one.time < H + 20 * HOUR]
    assert store.readings.counts() == {AIR: 720, PART: 1800}
    assert (store.readings.verify().problems, store.journal.verify().problems) == ((), ())


def test_a_stretch_stays_within_a_day(store: Store) -> None:
    fill(store, AIR, range(20, 30))
    assert [(one.start, one.end) for one in prune(store, H + 2 * DAY)] == [(H + 20 * HOUR, H + DAY), (H + DAY, H + 30 * HOUR)]


def test_hourly_summaries_and_the_absence_of_gaps_outlive_the_readings(store: Store) -> None:
    fill(store, AIR, range(0, 6))
    store.readings.seal(H + 3 * HOUR)
    store.readings.append([Reading(AIR, H + HOUR + 1, H + DAY, "99", "degC", 99.0, 1)])  # late, beside its chunk
    before, gaps = store.readings.hourly(AIR, 0, 2**62), store.readings.gaps(AIR, 61 * SECOND)
    assert len(prune(store, H + 6 * HOUR)) == 1
    after = store.readings.hourly(AIR, 0, 2**62)
    for name in ("hours", "count", "low", "mean", "high", "first", "last"):
        assert getattr(after, name).tolist() == getattr(before, name).tolist()
    assert after.high[1] == 99.0
    assert (store.readings.gaps(AIR, 61 * SECOND), store.readings.counts()) == (gaps, {})


def test_a_dry_run_deletes_nothing_and_counts_what_is_still_hot(store: Store) -> None:
    fill(store, AIR, range(0, 3))
    store.readings.seal(H + HOUR)
    (found,) = store.readings.pruning.candidates(H + 2 * HOUR, nothing_needed)
    assert (found.start, found.end, found.count) == (H, H + 2 * HOUR, 120)
    assert store.readings.counts() == {AIR: 180}


def test_a_reading_that_comes_after_deletion_is_kept_and_stays(store: Store) -> None:
    fill(store, AIR, range(0, 2))
    prune(store, H + 2 * HOUR)
    late = Reading(AIR, H + 90 * SECOND, H + DAY, "7", "degC", 7.0, 1)
    store.readings.append([late])
    assert prune(store, H + DAY) == []
    assert list(store.readings.rows(AIR, 0, 2**62)) == [late]
    assert store.readings.hourly(AIR, 0, 2**62).count.tolist() == [60, 60]
    assert store.readings.verify().ok


def test_a_broken_chunk_is_never_deleted(store: Store, outsider: sqlite3.Connection) -> None:
    fill(store, AIR, range(0, 3))
    store.readings.seal(H + 3 * HOUR)
    (trigger,) = outsider.execute("SELECT sql FROM sqlite_master WHERE name = 'chunk_keeps_values'").fetchone()
    outsider.execute("DROP TRIGGER chunk_keeps_values")
    outsider.execute("UPDATE chunk SET bytes = x'00' WHERE id = 2")
    outsider.execute(trigger)
    assert [(one.start, one.end) for one in prune(store, H + 3 * HOUR)] == [(H, H + HOUR), (H + 2 * HOUR, H + 3 * HOUR)]
    assert [lost.hour for lost in store.readings.verify().lost] == [H + HOUR]


def test_a_chunk_s_number_is_never_given_again(store: Store, outsider: sqlite3.Connection) -> None:
    fill(store, AIR, range(0, 3))
    prune(store, H + 3 * HOUR)
    fill(store, AIR, range(5, 6))
    store.readings.seal(H + DAY)
    assert outsider.execute("SELECT id FROM chunk").fetchall() == [(4,)]


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM chunk",
        "DELETE FROM sealed_hour",
        "DELETE FROM pruned_hour",
        "UPDATE pruned_hour SET mean = 1",
        "INSERT INTO pruned_hour SELECT point, hour, 1, chunk, count, 0, 0, 0, 0, 0, 0, 0, 0, 0 FROM sealed_hour",
    ],
)
def test_no_other_hand_deletes(store: Store, outsider: sqlite3.Connection, statement: str) -> None:
    store.journal.append([Draft("note", {}, H, H, "test")])
    fill(store, AIR, range(0, 4))
    prune(store, H + 2 * HOUR)
    store.readings.seal(H + 4 * HOUR)
    with pytest.raises(sqlite3.IntegrityError):
        outsider.execute(statement)
    assert store.readings.verify().ok


@pytest.mark.parametrize(
    "forged",
    ["UPDATE pruned_hour SET high = high + 1 WHERE hour = {hour}", "DELETE FROM pruned_hour WHERE hour = {hour}"],
)
def test_a_changed_summary_of_what_was_deleted_is_found(store: Store, forger: Callable[..., None], forged: str) -> None:
    fill(store, AIR, range(0, 4))
    prune(store, H + 2 * HOUR)
    forger(forged.format(hour=H + HOUR))
    assert any("aren't those of the readings that it says were deleted" in one for one in store.readings.verify().problems)


def test_a_reading_that_comes_while_it_is_prepared_puts_it_off(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    fill(store, AIR, range(0, 2))
    store.readings.seal(H + 2 * HOUR)
    pruning = store.readings.pruning

    def meanwhile(stretch: Stretch) -> int:
        raise AssertionError("it must not come to writing")

    def hash_of(*arguments: object) -> str:
        with Store.open(store._database.path.parent) as other:
            other.readings._writable = True  # as the logger would
            other.readings.append([Reading(AIR, H + 1, H + DAY, "7", "degC", 7.0, 1)])
        return ""

    with monkeypatch.context() as changed:
        changed.setattr(pruning, "_sha256", hash_of)
        assert list(pruning.prune(H + 2 * HOUR, nothing_needed, meanwhile)) == []
    assert store.readings.counts() == {AIR: 121}
    assert len(prune(store, H + 2 * HOUR)) == 1


def test_pruning_inside_a_transaction_is_refused(store: Store) -> None:
    with store.transaction(), pytest.raises(StoreError, match="outside a transaction"):
        list(store.readings.pruning.prune(H, nothing_needed, writer(store)))


PRUNER = """
import sys
from booth.store import Draft, Store
with Store.open(sys.argv[1]) as store:
    def write(one):
        body = {"point": one.point, "count": one.count, "sha256": one.sha256, "summaries_sha256": one.summaries_sha256}
        return store.journal.append([Draft("retention", body, one.start, one.end, "test")])[0].entry.seq
    print("ready", flush=True)
    for _ in store.readings.pruning.prune(2**62, lambda point, start, end: False, write):
        print(".", flush=True)
"""


def test_killed_at_random_moments_a_reading_is_there_or_journalled(tmp_path: Path) -> None:
    total = 0
    with Store.open(tmp_path, writer=True) as store:
        for point in (AIR, PART):
            fill(store, point, range(0, 24 * 12), every_s=300)
            total += 24 * 12 * 12
        store.readings.seal(2**62)
    random = Random(4)
    for _ in range(8):
        with subprocess.Popen([sys.executable, "-c", PRUNER, str(tmp_path)], cwd=ROOT, stdout=subprocess.PIPE) as pruner:
            for _ in range(random.randrange(1, 4)):
                pruner.stdout.readline()
            pruner.kill()
        with Store.open(tmp_path) as store:
            told = sum(entry.body["count"] for entry in store.journal.entries(kinds=["retention"]))
            assert sum(store.readings.counts().values()) + told == total
            assert (store.readings.verify().problems, store.journal.verify().problems) == ((), ())
