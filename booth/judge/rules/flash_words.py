"""How a flash-off is told in one sentence."""

from __future__ import annotations

from typing import TYPE_CHECKING

from booth.judge.finding import Verdict
from booth.judge.judging import NEAR, so_far
from booth.shop.requirement import Requirement
from booth.times import duration_text

if TYPE_CHECKING:
    from booth.judge.rules.flash import ZoneClock

_STOPPED = {"pause": "stopped the clock", "restart": "started the clock anew"}


def minimum_sentence(requirement: Requirement, clock: ZoneClock, over: bool) -> str:
    """`Flashed for 12 min (limit at least 15 min; zone roof, from its last pass)`."""
    elapsed = duration_text(clock.until - clock.since)
    if clock.ended:
        said = f"Flashed for {elapsed}"
    elif over:
        said = f"No next coat was recorded; flashed for {elapsed}"
    else:
        said = f"So far: flashing for {elapsed}"
    parts = [f"{said} (limit at least {time_words(requirement)}; {_where(clock.zone, 'last')})"]
    if requirement.quantity != "duration":
        parts.append(f"which is {min(clock.reckoning.least, 9.99) * 100:.0f} % of what its temperature asks for")
    rule = requirement.terms.out_of_limits
    if clock.out_us and rule in _STOPPED:
        parts.append(f"conditions out of limits for {duration_text(clock.out_us)} {_STOPPED[rule]}")
    if clock.near and clock.ended:
        parts.append(NEAR.removeprefix(", "))
    elif clock.verdict is Verdict.UNPROVEN and (clock.ended or rule == "not_stated"):
        parts += _doubts(clock, rule)
    return ", ".join(parts)


def _doubts(clock: ZoneClock, rule: str) -> list[str]:
    """Why a flash-off that could be met isn't proven."""
    doubts = []
    if clock.unknown_us and rule != "go_on":
        doubts.append(f"conditions unknown for {duration_text(clock.unknown_us)}")
    if clock.out_us and rule == "not_stated":
        doubts.append(f"conditions out of limits for {duration_text(clock.out_us)}")
        doubts.append("the sheet doesn't say what that does to the flash-off: the supervisor decides")
    elif clock.ended:
        doubts.append("what wasn't measured might make up for the rest")
    return doubts


def maximum_sentence(requirement: Requirement, clock: ZoneClock, over: bool) -> str:
    """`Next coat 80 min after the coat began, 5 min too late (limit at most 75 min; …)`."""
    limit = f"limit at most {time_words(requirement)}; {_where(clock.zone, 'first')}"
    elapsed = clock.until - clock.since
    late = ""
    if clock.verdict is Verdict.MISSED and requirement.quantity == "duration":
        late = f", {duration_text(elapsed - round(requirement.high * 1e6))} too late"
    if clock.ended:
        said = "Next coat"
    elif over:
        said = "No next coat was recorded"
    else:
        said = "No next coat yet" if clock.verdict is Verdict.MISSED else f"{so_far(False)}no next coat"
    share = ""
    if requirement.quantity != "duration":
        share = f", which is {min(clock.reckoning.least, 9.99) * 100:.0f} % of what its temperature allows"
    near = NEAR if clock.near and clock.ended else ""
    return f"{said} {duration_text(elapsed)} after the coat began{late}{share}{near} ({limit})"


def time_words(requirement: Requirement) -> str:
    """`15 min`, or `30 min to 12 min by the part's temperature`."""
    times = [duration_text(round(time * 1e6)) for time in requirement.terms.pace.times_s]
    if len(times) == 1:
        return times[0]
    return f"{times[0]} to {times[-1]} by the {requirement.terms.driven_by}'s temperature"


def _where(zone: str | None, which: str) -> str:
    if zone is not None:
        return f"zone {zone}, from its {which} pass"
    return f"no zone events: counted from the coat's {'end' if which == 'last' else 'start'}"
