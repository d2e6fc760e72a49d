"""`make truth`: how often a verdict is wrong, over many random shifts.

    python -m tests.truth --shifts 1000 --seed 10000 --jobs 2     prints the matrices and figures, writes truth.json
    python -m tests.truth --only 10042                            one shift again: everything that was said wrongly, and a picture
    python -m tests.truth --air measured                          under real outside air, a station's day drawn for each seed
    python -m tests.truth --again                                 the tables and figures of the last run once more

Seeds 0 to 9,999 are for tuning, those from 10,000 on for reporting.
"""

from __future__ import annotations

import argparse
import gc
import json
import pickle
import sys
import time
from collections.abc import Iterator
from dataclasses import asdict
from functools import partial
from multiprocessing import Pool
from pathlib import Path

from simulators.any_shift import any_shift, measured_shift
from simulators.station_files import NoAir, packaged_years
from tests.truth.figures import Figure, at_most, figures
from tests.truth.matrix import matrices, probabilities, wrong_rows
from tests.truth.picture import draw
from tests.truth.shift import Script, Shift, guarded_shop, judged_shift
from tests.truth.whole_way import compared

WHOLE_WAY_EVERY = 100  # one shift in so many also goes through JSON and a store on disk
WRONG_SHOWN = 40
MOST_MINUTES = 15
MANY = 100  # in so many shifts there must be something to tell each figure by
SCRIPTS: dict[str, Script] = {"invented": any_shift, "measured": measured_shift}


def main() -> None:
    plainly = argparse.RawTextHelpFormatter
    ask = argparse.ArgumentParser(prog="python -m tests.truth", description=__doc__, formatter_class=plainly)
    ask.add_argument("--shifts", type=int, default=1000)
    ask.add_argument("--seed", type=int, default=10_000, help="the first seed")
    ask.add_argument("--jobs", type=int, default=2)
    ask.add_argument("--only", type=int, metavar="SEED", help="replay one shift")
    ask.add_argument("--air", choices=SCRIPTS, default="invented", help="whose outside air (default invented)")
    ask.add_argument("--broker", type=int, default=1, metavar="N", help="so many of the shifts also go through a real broker")
    ask.add_argument("--again", action="store_true", help="print what truth.pickle in --out holds, without judging anything")
    ask.add_argument("--out", type=Path, default=Path("."), help="folder for truth.json and truth-worst.svg")
    given = ask.parse_args()
    script, kept = SCRIPTS[given.air], given.out / "truth.pickle"
    if given.again:
        shifts, took = pickle.loads(kept.read_bytes())
        _report(shifts, [*figures(shifts), at_most("1,000 shifts", took, "min", MOST_MINUTES)], given.out, script)
        return
    if given.air == "measured":
        print(_stations())
    seeds = [given.only] if given.only is not None else list(range(given.seed, given.seed + given.shifts))
    begun = time.perf_counter()
    shifts = sorted(_judged(seeds, given.jobs, script), key=lambda shift: shift.seed)
    took = (time.perf_counter() - begun) / 60 * 1000 / len(shifts)
    if given.only is None:
        kept.write_bytes(pickle.dumps((shifts, took)))  # half an hour's work, before anything else is made of it
    found = [*figures(shifts), at_most("1,000 shifts", took, "min", MOST_MINUTES, given.only is None)]
    _report(shifts, found, given.out, script)
    whole_way = seeds if given.only is not None else seeds[::WHOLE_WAY_EVERY]
    differences = list(compared(shifts, whole_way, given.broker if given.only is None else 0, script))
    for line in differences:
        print(line)
    unasked = [one.name for one in found if one.reached is None and one.limit is not None] if len(shifts) >= MANY else []
    for name in unasked:
        print(f"NOTHING TO TELL IT BY in {len(shifts)} shifts: {name}")
    raise SystemExit(1 if differences or unasked or any(one.reached is False for one in found) else 0)


def _stations() -> str:
    """Which days can be drawn. Read here once, before other processes are made, which take it along."""
    try:
        years = packaged_years()
    except NoAir as problem:
        raise SystemExit(f"tests.truth: {problem}") from None
    days = [f"{year.station} {len(year.days)} ({len(year.left_out)} left out, not measured throughout)" for year in years]
    return f"days of real air: {'; '.join(days)}\n"


def _judged(seeds: list[int], jobs: int, script: Script) -> Iterator[Shift]:
    """In whatever order they are done."""
    if jobs < 2 or len(seeds) < 2:
        shop = guarded_shop()
        yield from (judged_shift(seed, shop, script=script) for seed in seeds)
        return
    with Pool(jobs, _prepare, (script,)) as pool:
        begun = time.perf_counter()
        for done, shift in enumerate(pool.imap_unordered(_one, seeds), 1):
            rate = done / (time.perf_counter() - begun)
            left = (len(seeds) - done) / rate / 60
            print(f"\r{done} of {len(seeds)} shifts, {left:.1f} min left  ", end="", file=sys.stderr, flush=True)
            yield shift
    print(file=sys.stderr)


def _prepare(script: Script) -> None:
    global _one_shift
    gc.freeze()
    gc.set_threshold(200_000, 20, 20)  # a shift holds half a million messages, none of them in a circle: looking costs a tenth
    _one_shift = partial(judged_shift, shop=guarded_shop(), script=script)


def _one(seed: int) -> Shift:
    return _one_shift(seed)


def _report(shifts: list[Shift], found: list[Figure], folder: Path, script: Script) -> None:
    rows = [row for shift in shifts for row in shift.rows]
    print(f"{len(shifts)} shifts, {len(rows)} findings\n")
    print("\n\n".join(matrices(rows)))
    print(f"\n{probabilities(rows)}")
    wrong = wrong_rows(rows)
    print(f"\n{len(wrong)} wrong verdicts, the worst first; replay one with --only SEED and the same --air")
    for row in wrong[:WRONG_SHOWN]:
        ills = f" [{', '.join(map(str, row.ills))}]" if row.ills else ""
        said = f"{row.requirement}: {row.verdict}, true margin {row.margin:.4g} {row.unit}{ills}; {row.sentence}"
        print(f"  seed {row.seed}  {said}")
    print()
    for one in found:
        print(one)
    (folder / "truth.json").write_text(json.dumps([asdict(one) for one in found], indent=2, ensure_ascii=False) + "\n", "utf-8")
    if wrong:
        (folder / "truth-worst.svg").write_text(draw(wrong[0], guarded_shop(), script), "utf-8")


if __name__ == "__main__":
    main()
