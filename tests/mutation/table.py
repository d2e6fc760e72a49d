"""What became of the mutants: a row per package, and the changes that no test noticed."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from math import sqrt
from pathlib import PurePath

from tests.mutation.mutants import Mutant

KILLED, TIMED_OUT, SURVIVED, UNREACHED, ERROR = OUTCOMES = ("killed", "timed out", "survived", "no test", "error")
NOTICED = (KILLED, TIMED_OUT)
"""A mutant that never comes to an end is noticed too."""

SURE = 1.96


@dataclass(frozen=True)
class Result:
    key: str
    name: str
    outcome: str


def report(mutants: list[Mutant], results: list[Result]) -> None:
    counts: dict[str, Counter[str]] = {}
    for mutant, result in zip(mutants, results, strict=True):
        if result.outcome not in NOTICED:
            print(f"{mutant.path}:{mutant.lines.start} {result.outcome}", *mutant.change(), sep="\n    ")
        for row in (str(PurePath(mutant.path).parent), "all"):
            counts.setdefault(row, Counter())[result.outcome] += 1
    print(f"\n{'':<22}{''.join(f'{word:>11}' for word in ('mutants', *OUTCOMES))}   noticed")
    for row, count in sorted(counts.items(), key=lambda one: (one[0] == "all", one[0])):
        noticed, total = sum(count[word] for word in NOTICED), count.total()
        low, high = between(noticed, total)
        figures = "".join(f"{number:>11}" for number in (total, *(count[word] for word in OUTCOMES)))
        print(f"{row:<22}{figures}   {noticed / total:.1%} ({low:.1%} to {high:.1%} from a share)")


def between(hits: int, total: int) -> tuple[float, float]:
    """Wilson's interval for a share that was drawn at random, 95 %."""
    share, spread = hits / total, SURE**2 / total
    middle = share + spread / 2
    half = SURE * sqrt(share * (1 - share) / total + spread / (4 * total))
    return (middle - half) / (1 + spread), (middle + half) / (1 + spread)
