"""Shifts on which the booth's controller is silent: how far from the truth is a bake that is told by its heat?

python -m tests.truth.silent_mode --shifts 50 --seed 10000
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from booth.shop.shop import Shop
from booth.store import Store
from booth.times import SECOND
from simulators.any_shift import any_shift
from simulators.plant import Plant
from simulators.scenario import Fault
from tests.truth.play import Played, QuickKeep
from tests.truth.shift import guarded_shop


@dataclass(frozen=True)
class Bake:
    """Told less true, in seconds; None where it was never told."""

    seed: int
    start_s: float | None
    end_s: float | None


def baked(seed: int, shop: Shop) -> Bake:
    scenario = any_shift(seed, faults=False)
    (visit,) = scenario.visits
    silent = Fault(f"{visit.booth}/mode", "silent", scenario.start, scenario.end)
    scenario = replace(scenario, faults=(silent,))
    with Store.in_memory() as store:
        Played(shop, store).run(Plant(seed, scenario).messages(), QuickKeep(shop, store))
        entries = [one for one in store.journal.entries(vehicle=visit.vehicle) if one.channel == "inferred"]
    told = {one.kind: (one.effective - scenario.midnight) / SECOND for one in entries if one.body["step"] == "bake"}
    errors = (
        told[kind] - true if kind in told else None for kind, true in (("step-start", visit.bake), ("step-end", visit.cool))
    )
    return Bake(seed, *errors)


def report(bakes: Sequence[Bake]) -> Iterator[str]:
    yield f"{len(bakes)} bakes with a silent controller"
    for which in ("start", "end"):
        known = [getattr(one, f"{which}_s") for one in bakes if getattr(one, f"{which}_s") is not None]
        spread = np.percentile(known, (0, 5, 50, 95, 100)) if known else [np.nan] * 5
        words = ", ".join(f"{value:.0f}" for value in spread)
        yield f"{which}: told {len(known)}; told less true, least, 5 %, median, 95 %, most: {words} s"


def main() -> None:
    ask = argparse.ArgumentParser(prog="python -m tests.truth.silent_mode", description=__doc__)
    ask.add_argument("--shifts", type=int, default=50)
    ask.add_argument("--seed", type=int, default=10_000)
    given = ask.parse_args()
    shop = guarded_shop()
    print("\n".join(report([baked(seed, shop) for seed in range(given.seed, given.seed + given.shifts)])))


if __name__ == "__main__":
    main()
