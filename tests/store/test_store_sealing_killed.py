"""Sealing killed with SIGKILL at random moments: no reading lost, none doubled, and the next one goes on where it stopped."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path
from random import Random

from booth.store import Reading, Store
from booth.times import HOUR, SECOND

ROOT = Path(__file__).resolve().parents[2]
H = 1_783_944_000_000_000
HOURS = 150
POINTS = ("north/air", "south/air")

SEALER = """
import sys
from booth.store import Store
with Store.open(sys.argv[1]) as store:
    print("ready", flush=True)
    store.readings.seal(2**62)
"""


def test_a_killed_sealer_loses_and_doubles_nothing(tmp_path: Path) -> None:
    times = [H + n * 72 * SECOND for n in range(50 * HOURS)]
    sent = {
        point: [Reading(point, time, time + n, f"{n / 10}", "degC", n / 10, 1) for n, time in enumerate(times)]
        for point in POINTS
    }
    with Store.open(tmp_path, writer=True) as store:
        for batch in sent.values():
            store.readings.append(batch)
    random, halfway = Random(3), 0
    for _ in range(20):
        with subprocess.Popen([sys.executable, "-c", SEALER, str(tmp_path)], cwd=ROOT, stdout=subprocess.PIPE) as sealer:
            assert sealer.stdout.readline()
            time.sleep(random.random() * 0.04)
            sealer.kill()
        with Store.open(tmp_path, writer=True) as store:
            held = store.readings.held()
            halfway += any(one.hot and one.sealed for one in held)
            assert [one.hot + one.sealed for one in held] == [len(batch) for batch in sent.values()]
            found = store.readings.verify()
            assert (found.problems, found.readings) == ((), sum(one.sealed for one in held))
    with Store.open(tmp_path, writer=True) as store:
        for point in POINTS:
            assert list(store.readings.rows(point, 0, 2**62)) == sent[point]
        store.readings.seal(H + HOURS * HOUR)
        assert {one.hot for one in store.readings.held()} == {0}
        for point in POINTS:
            assert list(store.readings.rows(point, 0, 2**62)) == sent[point]
    assert halfway >= 5  # some were killed in the middle of it
