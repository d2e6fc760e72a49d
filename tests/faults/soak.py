"""The long suite: `python -m tests.faults.soak --runs 200`. A logger killed at random moments, checked each time.

Every run is one SIGKILL. Ten runs are one episode: one store, one broker, one story from beginning to end, checked after each
death and held against the findings of an undisturbed run at the end. Exit code 1 when anything was lost, doubled or judged
otherwise.
"""

from __future__ import annotations

import argparse
import random
import tempfile
from pathlib import Path

from tests.broker import MosquittoBroker
from tests.faults.compare import findings
from tests.faults.killing import episode, undisturbed

KILLS_IN_AN_EPISODE = 10


def main() -> int:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--runs", type=int, default=200, help="how many times the logger is killed (200)")
    options.add_argument(
        "--seed", type=int, default=random.SystemRandom().randrange(2**31), help="a printed one, to run it again"
    )
    asked = options.parse_args()
    print(f"seed {asked.seed}: {asked.runs} runs; the same again with --seed {asked.seed}")
    with tempfile.TemporaryDirectory() as folder:
        expected = undisturbed(Path(folder))
    done, failed = 0, 0
    while done < asked.runs:
        kills = min(KILLS_IN_AN_EPISODE, asked.runs - done)
        wrong = _one(kills, asked.seed + done, expected)
        done, failed = done + kills, failed + bool(wrong)
        print(
            f"{done:4d} of {asked.runs} runs: {'; '.join(wrong) or 'nothing lost, nothing doubled, the same findings'}",
            flush=True,
        )
    print(f"{failed} episodes failed" if failed else f"all {len(expected)} findings as undisturbed, in every episode")
    return 1 if failed else 0


def _one(kills: int, seed: int, expected: dict) -> list[str]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        broker = MosquittoBroker(folder).start()
        try:
            wrong = episode(broker, folder, kills, seed)
        except AssertionError as problem:
            return [str(problem)]
        finally:
            broker.stop()
        found = findings(folder / "store")
        return wrong + [f"judged otherwise: {one}" for one in expected if found.get(one) != expected[one]]


if __name__ == "__main__":
    raise SystemExit(main())
