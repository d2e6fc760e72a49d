"""What the instruments show when nobody pressed a button: spells of spraying, and purge, bake and cool by the booth's mode.

Which coat a spell was, booth.judge.coats says; a bake where the mode is silent, booth.judge.heat.

Pure over event time: the same readings give the same answer in whatever order they arrived, so the logger may ask again and
again and journal only what lies behind the allowed lateness. An id made from the facts keeps a second telling from being a second
event.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from uuid import NAMESPACE_URL, uuid5

from booth.judge.facts import Job
from booth.judge.series import Series
from booth.judge.track import runs
from booth.shop.process import Process
from booth.times import SECOND

SHORTEST_MODE_US = 8 * SECOND  # a controller passes through modes on its way; common practice, no source
SIGNALLED = {"purge": "purge", "bake": "bake", "cool": "cool"}  # mode word -> kind of step


@dataclass(frozen=True)
class Told:
    """A step that the instruments tell of; `end` is None while it goes on."""

    vehicle: str
    step: str
    booth: str
    start: int
    end: int | None
    channel: str  # signalled (by the booth's mode) or inferred (from the guns, or from the heat)
    told_from: str | None = None  # "heat" where no gun told of it

    def entry_id(self, kind: str) -> str:
        """The same for the same fact, for ever."""
        moment = self.start if kind == "step-start" else self.end
        return str(uuid5(NAMESPACE_URL, f"booth/{self.booth}/{self.vehicle}/{self.step}/{kind}/{self.start}/{moment}"))


@dataclass(frozen=True)
class Stretch:
    """`so_far`: as far as it is known to have gone on, where it has no end yet."""

    start: int
    end: int | None
    so_far: int | None = field(default=None, compare=False)


def mode_stretches(mode: Series, number: int, until: int) -> list[Stretch]:
    """Where the booth said this mode, from its first word to the first other one.

    A passage shorter than SHORTEST_MODE_US counts neither as the mode nor as an interruption of it, so an end has come only when
    the other mode has lasted that long.
    """
    known = mode.until(until)
    found: list[Stretch] = []
    for first, past in runs(known.values == number):
        start = int(known.times[first])
        end = int(known.times[past]) if past < len(known.times) else None
        if found and start - found[-1].end < SHORTEST_MODE_US:
            start = found.pop().start
        found.append(Stretch(start, end))
    newest = int(known.times[-1]) if len(known) else until
    if found and found[-1].end is not None and until - found[-1].end < SHORTEST_MODE_US:
        newest = found[-1].end  # whether it goes on nobody knows yet, so what comes after doesn't make it longer
        found[-1] = Stretch(found[-1].start, None)
    return [one for one in found if (newest if one.end is None else one.end) - one.start >= SHORTEST_MODE_US]


def gun_bursts(
    guns: Sequence[Series],
    on_above: float,
    shortest_us: int,
    longest_pause_us: int,
    until: int,
    no_coats: Sequence[tuple[int, int]] = (),
    cuts: Sequence[int] = (),
) -> list[Stretch]:
    """Spells of spraying: gun time joined over pauses, long enough to be a coat and not a blow-gun.

    An open spell (the last pause may still end) has no end yet. Dust blown off a while before the coat isn't its beginning: what
    is too short to be a coat is joined to what follows only over half the pause. What began in one of `no_coats` somebody said
    to be none: a gun was cleaned, a pattern tested. Nothing is joined over one of `cuts`: somebody said that a coat was over, or
    another van came in.
    """
    pieces: list[tuple[int, int]] = []
    for gun in guns:
        known = gun.until(until)
        for first, past in runs(known.values > on_above):
            last = int(known.times[past - 1])
            silent = last + known.max_age_us
            pieces.append(
                (int(known.times[first]), min(int(known.times[past]), silent) if past < len(known.times) else min(silent, until))
            )
    spells: list[list[int]] = []  # start, end, gun time
    before = 0
    for start, end in sorted(one for one in pieces if not any(first <= one[0] <= last for first, last in no_coats)):
        bearable = 0 if not spells else longest_pause_us if spells[-1][2] >= shortest_us else longest_pause_us // 2
        cut = any(before < one <= start for one in cuts)
        before = start
        if spells and start - spells[-1][1] <= bearable and not cut:
            spells[-1][2] += max(0, end - max(start, spells[-1][1]))
            spells[-1][1] = max(spells[-1][1], end)
        else:
            spells.append([start, end, end - start])
    return [
        Stretch(start, end if until - end > longest_pause_us or any(end <= cut <= until for cut in cuts) else None, end)
        for start, end, gun_time in spells
        if gun_time >= shortest_us
    ]


def told_by_mode(job: Job, process: Process, booth: str, stretches: dict[str, list[Stretch]], since: int) -> list[Told]:
    """Purge, bake and cool of one van, from the modes of the booth it stands in since `since`.

    A mode that the booth was in before the van came isn't the van's.
    """
    told = []
    for word, kind in SIGNALLED.items():
        for stretch in stretches.get(word, []):
            step = meant(process, kind, job, stretch.start) if stretch.start >= since else None
            if step is not None:
                told.append(Told(job.vehicle, step, booth, stretch.start, stretch.end, "signalled"))
    return told


def meant(process: Process, kind: str, job: Job, start: int) -> str | None:
    """The step of this kind that comes next after the coats begun by then; the last one where none comes next.

    None where wet paint should come first and no coat has begun: a booth is also purged and warmed before the work.
    """
    names = [step.step for step in process.steps]
    coats = [names.index(step.step) for step in process.coats()]
    begun = [names.index(run.step) for run in job.round.runs if run.step in names and run.start < start]
    reached = max((index for index in begun if index in coats), default=-1)
    own = [index for index, step in enumerate(process.steps) if step.kind == kind]
    chosen = next((index for index in own if index > reached), own[-1] if own else None)
    if chosen is None or (reached < 0 and any(coat < chosen for coat in coats)):
        return None
    return names[chosen]
