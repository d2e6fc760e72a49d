"""What a record must say at its head where readings of its time can't be read any more: what rests on them is unproven."""

from __future__ import annotations

from collections.abc import Iterator

from booth.reports.judged import Judged
from booth.times import DAY, HOUR, format_time


def lost_sentences(judged: Judged) -> Iterator[str]:
    """A sentence for each point of the job's booths whose readings were asked for and are lost, about a day around its rounds."""
    booths = {run.booth for round_ in judged.job.rounds for run in round_.runs} | {place.booth for place in judged.job.places}
    spans = [(one.opened - DAY, (one.closed or judged.as_of) + DAY) for one in judged.job.rounds]
    hours: dict[str, list[int]] = {}
    for lost in judged.store.readings.lost:
        ours = lost.point.partition("/")[0] in booths or not booths
        if ours and any(start < lost.hour + HOUR and lost.hour < end for start, end in spans):
            hours.setdefault(lost.point, []).append(lost.hour)
    for point, own in sorted(hours.items()):
        told = ", ".join(format_time(hour) for hour in sorted(own))
        yield (
            f"Readings of {point} are lost: the store is damaged for the hours from {told}. Whatever rests on them is a gap "
            "here, and unproven; 'booth store --check' says more, and a backup may still have them."
        )
