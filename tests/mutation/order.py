"""Which tests a mutant is held against, and in which order: the sooner one fails, the less the mutant costs."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable

from tests.mutation.mutants import Mutant
from tests.mutation.reach import TESTS_OF, Reached

REMEMBERED = 8


class Order:
    def __init__(self, seconds: dict[str, float], reached: Reached, patience_s: float) -> None:
        self.seconds = seconds
        self._reached = reached
        self._patience_s = patience_s
        self._killers: dict[str, list[str]] = defaultdict(list)
        self._breadth = Counter(test for lines in reached.values() for test in set().union(*lines.values()))

    def tests(self, mutant: Mutant) -> list[str]:
        """Those that killed its neighbours, its package's own, the others, as long as patience lasts.

        Among them those first that run few files, being about one thing, and the quick ones before the slow. What runs at import
        reaches everything: it is held against its package's own, those before others that run the file at all.
        """
        home = next(tests for source, tests in TESTS_OF.items() if mutant.path.startswith(source))
        touching = {test for tests in self._reached.get(mutant.path, {}).values() for test in tests}
        reaching = self._reaching(mutant) if mutant.function else {test for test in self.seconds if test.startswith(home)}
        killers = [test for test in self._killers[mutant.path] if test in reaching]

        def sooner(test: str) -> tuple[bool, bool, int, float]:
            return not test.startswith(home), test not in touching, self._breadth[test], self.seconds[test]

        return [*killers, *self._bearable(sorted(reaching - {*killers}, key=sooner))]

    def remember(self, mutant: Mutant, killer: str) -> None:
        last = self._killers[mutant.path]
        self._killers[mutant.path] = [killer, *(test for test in last if test != killer)][:REMEMBERED]

    def _reaching(self, mutant: Mutant) -> set[str]:
        """Those that run what is changed; where the lines don't tell, those that run the function."""
        lines = self._reached.get(mutant.path, {})
        found = {test for line in mutant.lines for test in lines.get(line, ())}
        return found or {test for line in mutant.body for test in lines.get(line, ())}

    def _bearable(self, tests: Iterable[str]) -> Iterable[str]:
        spent = 0.0
        for test in tests:
            spent += self.seconds[test]
            if spent <= self._patience_s:
                yield test
