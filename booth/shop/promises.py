"""From the files to requirements: what a step of a process promises, given its coating and the booth it is done in.

A limit that a sheet doesn't state becomes no requirement but a sentence in `not_stated`: nobody guesses it, and the record
says so.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from booth.shop.bake_promises import bake, cool, purge
from booth.shop.coat_promises import check, coat, flash
from booth.shop.process import Process, Step
from booth.shop.requirement import Requirement
from booth.shop.room import Booth
from booth.shop.shop import Shop
from booth.shop.task import Task

MAKERS = {
    "coat": coat,
    "flash": flash,
    "purge": purge,
    "bake": bake,
    "cool": cool,
    "check": check,
    "inspect": check,
    "mix": lambda task: (),  # a mix is judged by the coat that uses it
}
"""Step kind -> what it promises."""

PRESENT = ("coat", "purge", "bake", "cool")
"""Kinds of step whose absence is a finding. A flash-off is always there, and a missing check is the check's own finding."""


@dataclass(frozen=True)
class Promise:
    """The requirements of one step, and what its sheet is silent about."""

    requirements: tuple[Requirement, ...]
    not_stated: tuple[str, ...]


class Promises:
    """Every promise of a shop, each derived once."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self._made: dict[tuple[str, str, str | None], Promise] = {}

    def of(self, process_id: str, step: Step, booth_id: str | None) -> Promise:
        key = (process_id, step.step, booth_id)
        if key not in self._made:
            self._made[key] = promise_of(self.shop, process_id, step, self.shop.booths.get(booth_id) if booth_id else None)
        return self._made[key]


def promise_of(shop: Shop, process_id: str, step: Step, booth: Booth | None) -> Promise:
    """What this step promises; without a booth (not begun), the limits of the booth are left out."""
    process = shop.processes[process_id]
    coating_id = step.coating or _coating_before(process, step)
    task = Task(process, step, shop.coatings[coating_id] if coating_id else None, booth)
    made = [task.requirement("done", task.process_source)] if step.kind in PRESENT else []
    made += MAKERS[step.kind](task)
    guarded = shop.decision_rule(coating_id) == "guarded"
    requirements = [
        replace(one, guarded=guarded, what_to_do=process.what_to_do.get(one.kind)) for one in made if not isinstance(one, str)
    ]
    return Promise(tuple(requirements), tuple(one for one in made if isinstance(one, str)))


def _coating_before(process: Process, step: Step) -> str | None:
    before = process.named(step.after) if step.after else None
    return before.coating if before else None
