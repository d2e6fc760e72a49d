"""The figures that the truth bench reports, each beside its goal."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from booth.alarms.rates import chatters, floods, per_ten_minutes
from booth.times import SECOND
from tests.truth.filters import FILTER, foretold_filters
from tests.truth.forecasts import CLOCK, CROSSING, UNSURE, Foretold
from tests.truth.shift import Row, Shift

SENSOR_LAG_S = 15.0  # of the slowest instrument that raises an alarm: the part probe (simulators/instruments.py)
SHIFT_H = 8.0
STATED, WITHIN_POINTS = 95.0, 5.0

FORETOLD = {
    (CLOCK,): "next step by the clock",
    ("pot_life",): "end of a pot life by its temperature",
    ("flash_minimum", "dwell", "cool_below"): "flash-off, bake and cool-down by a temperature",
    (FILTER,): "filter change-out",
}
"""Kinds of forecast -> what they are of."""


@dataclass(frozen=True)
class Figure:
    """As in bench.json: `ratio` is value / limit; `reached` says whether the goal is met, None where nothing is asked."""

    name: str
    value: float
    unit: str
    limit: float | None
    ratio: float | None
    goal: str
    reached: bool | None

    def __str__(self) -> str:
        mark = {True: "reached", False: "NOT REACHED", None: ""}[self.reached]
        return f"{self.name:<78} {self.value:10.4g} {self.unit:<6} {self.goal:<22} {mark}"


def at_most(name: str, value: float, unit: str, limit: float, out_of: int = 1) -> Figure:
    """`out_of` nothing no goal is reached."""
    reached = value <= limit if out_of else None
    return Figure(name, value, unit, limit, value / limit if limit else None, f"≤ {limit:g} {unit}".rstrip(), reached)


def at_least(name: str, value: float, unit: str, limit: float, out_of: int = 1) -> Figure:
    return Figure(name, value, unit, limit, value / limit, f"≥ {limit:g} {unit}".rstrip(), value >= limit if out_of else None)


def printed(name: str, value: float, unit: str) -> Figure:
    return Figure(name, value, unit, None, None, "printed", None)


def figures(shifts: Sequence[Shift]) -> list[Figure]:
    parts = (verdicts, inference, delays, forecasts, painters, management)
    return [figure for part in parts for figure in part(shifts)]


def verdicts(shifts: Sequence[Shift]) -> Iterator[Figure]:
    """Faults that no single instrument can show are counted apart."""
    known = [row for shift in shifts for row in shift.rows if row.margin is not None]
    rows = [row for row in known if not row.hidden]
    missed = [row for row in rows if row.margin < 0]
    clearly_missed = [row for row in rows if row.truth == "missed by more than U"]
    clearly_met = [row for row in rows if row.truth == "met by more than U"]
    met_of_missed = sum(row.verdict == "met" for row in missed)
    yield at_most("“met”, truth missed by more than the stated uncertainty", _count(clearly_missed, "met"), "", 0, len(rows))
    yield at_most(
        "“met”, truth missed at all: of what was called met",
        _percent(met_of_missed, _count(rows, "met")),
        "%",
        0.2,
        _count(rows, "met"),
    )
    yield printed("… of what was truly missed", _percent(met_of_missed, len(missed)), "%")
    wrongly_missed = _percent(_count(clearly_met, "missed"), len(clearly_met))
    yield at_most("“missed”, truth met by more than the uncertainty", wrongly_missed, "%", 1, len(clearly_met))
    overdue = [row for row in rows if any(ill.overdue for ill in row.ills)]
    decided = [row for row in overdue if not row.gaps_at_worst]
    yield at_most("fault longer than its detection time, and “met” all the same", _count(decided, "met"), "", 0, len(decided))
    yield printed("… findings with such a fault", len(decided), "")
    worst = [row for row in overdue if row.gaps_at_worst and row.verdict == "met"]
    name = "such a fault where gaps are taken at their worst, and “met”"
    yield printed(name, len(worst), "")
    yield at_most("… truth missed", sum(row.margin < 0 for row in worst), "", 0, len(worst))
    sound = [row for row in clearly_met if not row.ills and row.pressed]
    yield at_least(
        "“met” where clearly met and nothing was wrong", _percent(_count(sound, "met"), len(sound)), "%", 97, len(sound)
    )
    met = [row for row in rows if row.margin >= 0 and not row.ills and row.pressed]
    yield at_least(
        "“met” of all that was met, by however little, and nothing was wrong",
        _percent(_count(met, "met"), len(met)),
        "%",
        95,
        len(met),
    )
    yield from _hidden([row for row in known if row.hidden])


def _hidden(rows: Sequence[Row]) -> Iterator[Figure]:
    name = "a fault that nothing shows"
    yield printed(f"{name}: findings", len(rows), "")
    yield printed(f"{name}: “met”, truth missed", _count([row for row in rows if row.margin < 0], "met"), "")
    clearly = [row for row in rows if row.truth == "met by more than U"]
    yield printed(f"{name}: “missed”, truth clearly met", _count(clearly, "missed"), "")
    drifting = [row for row in rows if all(ill.kind == "drift" for ill in row.ills)]
    clearly_missed = [row for row in drifting if row.truth == "missed by more than U"]
    yield at_most(
        "… a drift inside the calibration alone: “met”, missed by more than U",
        _count(clearly_missed, "met"),
        "",
        0,
        len(drifting),
    )


def inference(shifts: Sequence[Shift]) -> Iterator[Figure]:
    """Forgotten buttons. There is one van in these shifts; a wrong van would be a step of another one."""
    told = [one for shift in shifts for one in shift.inferred]
    for which in ("start", "end"):
        errors = [math.inf if one.error_s is None else abs(one.error_s) for one in told if one.which == which]
        yield at_most(
            f"step {which} inferred without its button, error (p95 of {len(errors)})", _p95(errors), "s", 15, len(errors)
        )
    yield printed("forgotten buttons that nothing told of", sum(one.error_s is None for one in told), "")


def delays(shifts: Sequence[Shift]) -> Iterator[Figure]:
    """From the moment on at which the alarm had to come; an alarm that never came is infinitely late.

    What is called unproven raises none: it is counted, and shown in the matrix.
    """
    missed = [delay for shift in shifts for delay in shift.delays]
    every = [one for one in missed if one.verdict == "missed"]
    must = [one.since_2u_s for one in every if one.since_2u_s is not None]
    yield at_most(
        f"alarm after a miss that no error could hide, 2 U (p95 of {len(must)})", _p95(must), "s", 5 + SENSOR_LAG_S, len(must)
    )
    yield at_most("… and no alarm at all", sum(math.isinf(one) for one in must), "", 0, len(must))
    unproven = sum(one.verdict == "unproven" for one in missed if one.since_2u_s is not None)
    yield printed(f"… truly missed by more than 2 U, and called unproven (beside {len(must)} called missed)", unproven, "")
    clear = [one.since_u_s for one in every if one.since_u_s is not None]
    yield printed(f"alarm after a miss by more than U (p95 of {len(clear)})", _p95(clear), "s")
    yield printed("… median", _median(clear), "s")
    first = [one.since_missed_s for one in every if one.since_missed_s is not None]
    yield printed(f"alarm after a miss at all (median of {len(first)})", _median(first), "s")


def forecasts(shifts: Sequence[Shift]) -> Iterator[Figure]:
    """How often what came lay where it was stated to with about 95 %, and how long before a miss the warning came."""
    told = [one for shift in shifts for one in (*shift.foretold, *foretold_filters(shift.seed))]
    for kind, what in FORETOLD.items():
        own = [one for one in told if one.kind in kind]
        inside = _percent(sum(one.inside for one in own), len(own))
        yield at_least(f"{what}: came where stated, of {len(own)}", inside, "%", STATED - WITHIN_POINTS, len(own))
        if own:
            yield printed("… half the width of what was stated, of the time ahead (median)", _width(own), "%")
    yield printed("foretold without saying how sure", sum(one.kind == UNSURE for one in told), "")
    yield from _crossings([one for one in told if one.kind == CROSSING])
    yield from _leads(shifts)


def _crossings(told: Sequence[Foretold]) -> Iterator[Figure]:
    """A warning says the soonest moment only, so what never came says nothing about how true that is."""
    came = [one for one in told if np.isfinite(one.error_s)]
    inside = _percent(sum(one.inside for one in came), len(came))
    name = f"a measure on its way out: not sooner than stated, of {len(came)} that came"
    yield at_least(name, inside, "%", STATED - WITHIN_POINTS, len(came))
    yield printed("… warned of a crossing that came", _percent(len(came), len(told)), "%")
    soonest = _median([1 - one.sooner_s / one.ahead_s for one in told if one.ahead_s])
    yield printed("… the soonest moment stated, of the time to the expected one (median)", 100 * soonest, "%")


def _leads(shifts: Sequence[Shift]) -> Iterator[Figure]:
    could = [one for shift in shifts for one in shift.leads if one.foreseeable]
    groups = {"clocks": [one for one in could if one.by_clock], "measures": [one for one in could if not one.by_clock]}
    minutes = [(one.lead_s or 0.0) / 60 for one in could]
    name = f"warning before a miss that could be foreseen (median of {len(could)})"
    yield at_least(name, _median(minutes), "min", 5, len(could))
    for group, own in groups.items():
        yield printed(f"… {group} (median of {len(own)})", _median([(one.lead_s or 0.0) / 60 for one in own]), "min")
    yield printed("… none at all", _percent(sum(one == 0.0 for one in minutes), len(minutes)), "%")


def _width(own: Sequence[Foretold]) -> float:
    """A filter may be foretold to be full today, which is no time ahead."""
    halves = [(one.sooner_s + one.later_s) / 2 / one.ahead_s if one.ahead_s else math.inf for one in own]
    return 100 * _median(halves)


def painters(shifts: Sequence[Shift]) -> Iterator[Figure]:
    """What reaches the painter."""
    good = [shift for shift in shifts if shift.good]
    hours = sum(shift.hours for shift in good)
    count = sum(one.audience == "painter" for shift in good for one in shift.raised)
    name = f"alarms to a painter in 8 h of good work with sound instruments ({len(good)} shifts)"
    yield at_most(name, count * SHIFT_H / hours if hours else 0.0, "", 1, len(good))


def management(shifts: Sequence[Shift]) -> Iterator[Figure]:
    """EEMUA 191: one alarm in ten minutes is manageable, ten are a flood; ISA-18.2: 150 a day are acceptable, 300 the most
    (from memory, see the source beside booth.alarms.rates)."""
    hours = sum(shift.hours for shift in shifts) or 1.0
    times = [sorted(round(one.at_s * SECOND) for one in shift.raised) for shift in shifts]
    alarms = sum(len(own) for own in times)
    yield at_most("alarms per hour, all shifts (EEMUA 191: 5 an hour)", alarms / hours, "/h", 5)
    yield at_most("alarms per 24 h and operator (ISA-18.2: 150 a day)", alarms / hours * 24, "/d", 150)
    yield at_most("alarms per 10 min, all shifts (EEMUA 191: 1)", alarms / hours / 6, "", 1)
    peaks = [max((per_ten_minutes(own, moment) for moment in own), default=0) for own in times]
    yield at_most("most alarms in 10 min of a shift (p95; EEMUA 191: 10)", _p95(peaks), "", 10)
    yield printed("shifts with a flood (above 10 in 10 min)", sum(bool(floods(own)) for own in times), "")
    yield at_most("alarms that chatter (3 times in a minute)", sum(_chattering(shift) for shift in shifts), "", 0)


def _chattering(shift: Shift) -> int:
    names = {one.alarm for one in shift.raised}
    return sum(chatters(round(one.at_s * SECOND) for one in shift.raised if one.alarm == name) for name in names)


def _count(rows: Sequence[Row], verdict: str) -> int:
    return sum(row.verdict == verdict for row in rows)


def _percent(count: int, of: int) -> float:
    return 100 * count / of if of else 0.0


def _p95(values: Sequence[float]) -> float:
    return float(np.percentile(values, 95, method="inverted_cdf")) if values else 0.0


def _median(values: Sequence[float]) -> float:
    return float(np.percentile(values, 50, method="inverted_cdf")) if values else 0.0
