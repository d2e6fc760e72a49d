"""What was found in a window against what the journal says: the entries that the journal lacks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from booth.judge.health.faults import STALE
from booth.judge.health.spans import Interval, Span


@dataclass(frozen=True)
class Answer:
    """What a detector found of one fault in a window that begins at `start`.

    A span that begins at `edge` or earlier may be the rest of one that began before the window.
    """

    fault: str
    spans: list[Span]
    start: int
    edge: int


def changes(point: str, answer: Answer, known: Sequence[Interval]) -> Iterator[Interval]:
    """What the journal must say anew so that it says what was found: begun, ended, or withdrawn.

    `known`: everything that the journal has of this fault of this point, withdrawn ones too. What reaches into the window from
    before and was over stays as it is.
    """
    spans = {one.start: one for one in _joined(answer, known)}
    by_start = {one.start: one for one in known}
    for start, span in spans.items():
        old = by_start.get(start)
        if old is None or old.withdrawn or old.end != span.end:
            entries = 1 if old is None else old.entries + 1
            yield Interval(point, answer.fault, start, span.end, span.certain, span.offset_us, False, entries)
    for one in known:
        if one.withdrawn or one.start in spans:
            continue
        if one.start >= answer.start:
            yield replace(one, withdrawn=True, entries=one.entries + 1)
        elif one.end is None:
            yield replace(one, end=answer.start, entries=one.entries + 1)


def as_known_at(known: Iterable[Interval], as_of: int) -> list[Interval]:
    """What was known of these when the readings went no further than `as_of`: an end that came later had not come yet."""
    proven = [one for one in known if one.certain < as_of or (one.certain == as_of and one.fault != STALE)]
    return [replace(one, end=None) if one.end is not None and one.end > as_of else one for one in proven]


def back_to(start: int, known: Iterable[Interval], reach_us: int) -> int:
    """Where a window must begin after a late reading, which may undo a fault from its very beginning."""
    begun = [one.start for one in known if not one.withdrawn and one.touches(start, start + 1)]
    return min([start, *(one - reach_us for one in begun)])


def no_longer_asked(known: Iterable[Interval], asked: Iterable[str], at: int) -> Iterator[Interval]:
    """Faults that last in the journal and that the configuration no longer looks for: over, as far as anybody knows."""
    for one in known:
        if not one.withdrawn and one.end is None and one.fault not in asked:
            yield replace(one, end=max(at, one.start + 1), entries=one.entries + 1)


def _joined(answer: Answer, known: Iterable[Interval]) -> list[Span]:
    """What was found, the first span dated back to where the journal says that it began."""
    spans = list(answer.spans)
    if spans and spans[0].start <= answer.edge:
        for one in known:
            if not one.withdrawn and one.start < spans[0].start and (one.end is None or one.end >= spans[0].start):
                spans[0] = replace(spans[0], start=one.start, certain=one.certain)
    return spans
