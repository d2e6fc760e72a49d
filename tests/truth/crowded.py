"""Two vans in one booth, buttons forgotten, guns cleaned and tried between the coats: whose coat does the logger say it was?

No physics: guns, mode and a steady air, and people. What must hold is that no coat is ever told of the wrong van, and that
whatever nobody entered while two vans were in was asked. Everything is invented.

    python -m tests.truth.crowded --shifts 200 --seed 10000
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from booth.alarms.states import State
from booth.alarms.transition import read_transition
from booth.judge.ledger import Ledger
from booth.shop.shop import Shop
from booth.store import Store
from tests.truth.crowded_shift import PAUSE_S, SHORTEST_S, Crowded, Sprayed, crowded, ticks
from tests.truth.play import Played, QuickKeep
from tests.truth.shift import guarded_shop


@dataclass(frozen=True)
class Outcome:
    """Of one shift; lists of sentences where something must not be, each with what it is about."""

    seed: int
    wrong_van: tuple[str, ...]
    wrong_step: tuple[str, ...]
    of_nothing: tuple[str, ...]  # told where nobody sprayed a van, nor cleaned a gun without saying so
    after_unsaid: int  # told as the wrong coat, since a gun was cleaned before and nobody said so
    told: int
    errors_s: tuple[float, ...]  # told less true, of starts and ends told while a van was alone
    unasked: tuple[str, ...]
    asked: int
    beside: int  # nobody entered it, and another van's was entered at the same time, or right before it and never ended
    asked_of_entered: tuple[str, ...]
    asked_of_idle: int
    unsettled: tuple[str, ...]


def played(seed: int, shop: Shop) -> Outcome:
    shift = crowded(seed)
    with Store.in_memory() as store:
        Played(shop, store).run(ticks(shift), QuickKeep(shop, store))
        entries = list(store.journal.entries())
    ledger = Ledger(entry for entry in entries if entry.kind not in ("alarm", "finding", "logger-start"))
    inferred = [entry for entry in entries if entry.channel == "inferred"]
    moves = [read_transition(entry.body, entry.private) for entry in entries if entry.kind == "alarm"]
    questions = [move for move in moves if move.condition.requirement == "whose_coat"]
    raised = [shift.at(move.condition.since) - 90 for move in questions if move.after is State.UNACKNOWLEDGED]
    unsaid = [one.start for one in shift.idle if one.end - one.start > SHORTEST_S and one not in shift.said]
    wrong_van, wrong_step, of_nothing, errors, after_unsaid = [], [], [], [], 0
    right: set[tuple[str, str]] = set()
    for entry in inferred:
        coat = _sprayed_at(shift, shift.at(entry.effective), entry.kind == "step-end")
        said = f"seed {seed}: {entry.kind} of {entry.body['vehicle']} {entry.body['step']} at {shift.at(entry.effective):.0f} s"
        if coat is None:
            cleaned = any(one.start - 30 <= shift.at(entry.effective) <= one.end + 30 for one in shift.idle)
            of_nothing += [] if cleaned else [said]
            continue
        if coat.vehicle != entry.body["vehicle"]:
            wrong_van.append(said)
        elif coat.step != entry.body["step"] and any(start < coat.start for start in unsaid):
            after_unsaid += 1
        elif coat.step != entry.body["step"]:
            wrong_step.append(said)
        else:
            right.add((coat.vehicle, coat.step))
            errors.append(shift.at(entry.effective) - (coat.start if entry.kind == "step-start" else coat.end))
    forgotten = [one for one in shift.coats if "step-start" not in one.entered and (one.vehicle, one.step) not in right]
    hidden = [one for one in forgotten if _sprayed_beside(shift, one)]
    unasked = [one for one in forgotten if one not in hidden and not _among(raised, shift, one)]
    entered = [one for one in shift.coats if "step-start" in one.entered]
    needless = [one for one in entered if any(abs(second - one.start) < 30 for second in raised)]
    needless = [one for one in needless if not any(start < one.start for start in unsaid)]
    needless = [] if any(_among(raised, shift, other) for other in hidden) else needless
    return Outcome(
        seed,
        tuple(wrong_van),
        tuple(wrong_step),
        tuple(of_nothing),
        after_unsaid,
        len(inferred),
        tuple(errors),
        tuple(f"seed {seed}: {one.vehicle} {one.step} from {one.start} s" for one in unasked),
        len(raised),
        len(hidden),
        tuple(f"seed {seed}: {one.vehicle} {one.step} from {one.start} s" for one in needless),
        sum(any(abs(second - one.start) < 30 for second in raised) for one in shift.idle),
        tuple(_unsettled(shift, ledger, min(unsaid, default=shift.end))),
    )


def _sprayed_at(shift: Crowded, second: float, ending: bool) -> Sprayed | None:
    """The coat that lies nearest to a moment."""
    near = [one for one in shift.coats if one.start - 30 <= second <= one.end + 30]
    return min(near, key=lambda one: abs((one.end if ending else one.start) - second), default=None)


def _sprayed_beside(shift: Crowded, coat: Sprayed) -> bool:
    """By the guns alone it is one spell with a coat that somebody entered of another van."""
    others = [one for one in shift.coats if one.vehicle != coat.vehicle and one.entered]
    return any(one.start < coat.end and coat.start < one.end + (0 if "step-end" in one.entered else PAUSE_S) for one in others)


def _among(raised: Sequence[float], shift: Crowded, coat: Sprayed) -> bool:
    """Whether a question began within the coat, or within one right before it that nobody entered either: it is about both."""
    first = coat.start
    for one in sorted(shift.coats, key=lambda one: -one.start):
        if one.start < first <= one.end + PAUSE_S and "step-start" not in one.entered:
            first = one.start
    return any(first - 30 <= second <= coat.end for second in raised)


def _unsettled(shift: Crowded, ledger: Ledger, before: int) -> Iterator[str]:
    """Coats that were answered and don't stand as they were sprayed. After a cleaning that nobody spoke of nothing is certain."""
    for coat in shift.coats:
        if coat.answers and shift.is_shared(coat.start) and coat.start < before:
            run = ledger.job(coat.vehicle).round.run(coat.step)
            if run is None or abs(shift.at(run.start) - coat.start) > 30:
                yield f"seed {shift.seed}: {coat.vehicle} {coat.step}"


def report(outcomes: Sequence[Outcome]) -> Iterator[str]:
    errors = np.abs([error for one in outcomes for error in one.errors_s] or [0.0])
    yield f"{len(outcomes)} shifts with two vans in a booth"
    yield f"told of the wrong van                        {sum(len(one.wrong_van) for one in outcomes)}"
    yield f"told as the wrong coat of the right van      {sum(len(one.wrong_step) for one in outcomes)}"
    yield f"… since nobody said that a gun was cleaned   {sum(one.after_unsaid for one in outcomes)}"
    yield f"told of neither a coat nor a gun cleaned     {sum(len(one.of_nothing) for one in outcomes)}"
    yield f"told, and how far from the trigger (p95)     {sum(one.told for one in outcomes)}, {np.percentile(errors, 95):.1f} s"
    yield f"nobody entered it, and nobody was asked      {sum(len(one.unasked) for one in outcomes)}"
    yield f"the same beside another van's entered coat   {sum(one.beside for one in outcomes)} in all, asked or not"
    yield f"questions                                    {sum(one.asked for one in outcomes)}"
    yield f"… about a coat that somebody had entered     {sum(len(one.asked_of_entered) for one in outcomes)}"
    yield f"… about a gun that was cleaned               {sum(one.asked_of_idle for one in outcomes)}"
    yield f"answered, and not as it was sprayed          {sum(len(one.unsettled) for one in outcomes)}"
    for one in outcomes:
        for name in ("wrong_van", "wrong_step", "of_nothing", "unasked", "asked_of_entered", "unsettled"):
            yield from (f"  {name}: {said}" for said in getattr(one, name))


def main() -> None:
    ask = argparse.ArgumentParser(prog="python -m tests.truth.crowded", description=__doc__)
    ask.add_argument("--shifts", type=int, default=200)
    ask.add_argument("--seed", type=int, default=10_000)
    given = ask.parse_args()
    shop = guarded_shop()
    print("\n".join(report([played(seed, shop) for seed in range(given.seed, given.seed + given.shifts)])))


if __name__ == "__main__":
    main()
