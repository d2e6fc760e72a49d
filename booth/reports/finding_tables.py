"""The findings in tables, one for each step: what was asked, what was seen, by how much, and the verdict in word and shape."""

from __future__ import annotations

from booth.reports.blocks import Cell, Section, Table, Text, table
from booth.reports.words import SPAN_SOURCES, SiteClock, limit_words, margin_words, person, spread_words, value_words
from booth.times import SECOND, duration_text


def round_title(title: str, round_: dict, record: dict) -> str:
    return title if len(record["rounds"]) == 1 else f"{title}, round {round_['round']}"


def round_findings(round_: dict, record: dict, clock: SiteClock) -> Section:
    """The findings of one round, a table for what holds for the whole round and one for each step."""
    blocks: list[Table | Text] = [Text(_READING)]
    if len(record["rounds"]) > 1:
        reason = "" if round_["round"] == 1 else f" Opened again because: {person(round_['reason'])}."
        closed = clock.full(round_["closed"]) if round_["closed"] else "still open"
        told = f"Round {round_['round']}: {round_['verdict']}; {round_['outcome']}."
        blocks.append(Text(f"{told} {clock.full(round_['opened'])} to {closed}.{reason}"))
    blocks += _findings_table(
        round_["findings"], "The whole round", "Gates, missing steps and what holds for every step.", None, clock
    )
    for step in round_["steps"]:
        what = ", ".join(part for part in (step["kind"], step["coating"]) if part and part != step["step"])
        title = f"{step['step']} ({what})" if what else step["step"]
        found = _findings_table(step["findings"], title, _about_step(step, clock), step, clock)
        blocks += found or (Text(f"{title}: {_about_step(step, clock)} No requirement was judged on this step."),)
    return Section(round_title("Findings", round_, record), tuple(blocks))


_READING = (
    "Observed is the value nearest to the limit or beyond it; the margin is its distance from the limit. "
    "Uncertainties (±) are expanded, k = 2. The evidence’s hash stands in full in the appendix."
)


def _about_step(step: dict, clock: SiteClock) -> str:
    parts = [clock.span(step["start"], step["end"])]
    if step["source"]:
        parts.append(SPAN_SOURCES.get(step["source"], step["source"]))
    parts.append(f"booth {step['booth']}" if step["booth"] else "")
    if step["by"] is not None or step["source"] == "entered":
        parts.append(f"by {person(step['by'])}")
    parts.append(f"mix {step['mix']}" if step["mix"] else "")
    parts += [f"zone {zone['zone']} ({zone['substrate']}) {clock.span(zone['start'], zone['end'])}" for zone in step["zones"]]
    parts += [f"held {clock.span(hold['start'], hold['end'])}" for hold in step["holds"]]
    return "; ".join(part for part in parts if part) + "."


def _findings_table(findings: list[dict], title: str, about: str, step: dict | None, clock: SiteClock) -> tuple[Table, ...]:
    rows = [
        (
            Cell(finding["sentence"], _context(finding, step, clock), strong=requirement_name(finding)),
            Cell(_limit(finding), (f"Source: {finding['source']}",)),
            Cell(finding["observed_text"] or value_words(finding["observed"], finding["quantity"]), _measurement(finding)),
            Cell("", _verdict_notes(finding), verdict=finding["verdict"]),
        )
        for finding in findings
    ]
    return table("Requirement and finding 42 | Limit 22 | Observed 22 | Verdict 14", rows, title, about)


def requirement_name(finding: dict) -> str:
    return f"{finding['requirement']}, {finding['zone']}" if finding["zone"] else finding["requirement"]


def _limit(finding: dict) -> str:
    return finding["limit_text"] or limit_words(finding["low"], finding["high"], finding["quantity"])


def _context(finding: dict, step: dict | None, clock: SiteClock) -> tuple[str, ...]:
    """When it was judged (where that isn't simply the step), its window, and each excursion."""
    notes = []
    own_span = step is None or (finding["start"], finding["end"]) != (step["start"], step["end"])
    inferred = finding["span_source"] == "inferred"
    if own_span and finding["start"] is not None:
        notes.append(f"Judged over {clock.span(finding['start'], finding['end'])}.")
    if inferred:
        notes.append("Span inferred from readings.")
    window = finding["window"]
    if window:
        notes.append(f"Window: earliest {clock.at(window['earliest'])}, latest {clock.at(window['latest'])}.")
    for excursion in finding["excursions"]:
        span = clock.span(excursion["start"], excursion["end"])
        if finding["kind"] == "mode":  # a mode is a word; there is no worst one
            notes.append(f"In another mode {span}.")
        else:
            notes.append(f"Beyond the limit {span}, worst {value_words(excursion['worst'], finding['quantity'])}.")
    if differs(finding):
        issued = finding["as_issued"]
        notes.append(f"As issued {clock.full(issued['recorded'])}: {issued['verdict']}. {issued['sentence']}")
    if finding["evidence_sha256"]:
        notes.append(f"Evidence {finding['evidence_sha256'][:12]}…")
    return tuple(notes)


def _measurement(finding: dict) -> tuple[str, ...]:
    notes = [margin_words(finding)]
    if finding["uncertainty"]:
        notes.append(f"±{spread_words(finding['uncertainty'], finding['quantity'])}")
    if finding.get("probability") is not None:  # a record of an earlier version has none
        notes.append(f"probability of conforming {probability_words(finding['probability'])}")
    coverage, gap = finding["coverage"], finding["largest_gap_s"]
    if coverage is not None:
        known = int(coverage * 1000) / 10  # rounded down: 99.97 % isn't "100.0 %"
        notes.append("known throughout" if coverage >= 1 else f"known {known:.1f} % of the time")
        notes.append(f"largest gap {duration_text(round(gap * SECOND))}" if coverage < 1 and gap else None)
    return tuple(note for note in notes if note)


def probability_words(probability: float) -> str:
    """Nothing measured is certain: `97.7 %`, but `over 99.9 %` and `under 0.1 %` at the ends."""
    percent = 100 * probability
    if percent > 99.9:
        return "over 99.9 %"
    return "under 0.1 %" if percent < 0.1 else f"{percent:.1f} %"


def differs(finding: dict) -> bool:
    """Whether the finding recomputed for this record says something else than the one first issued."""
    issued = finding["as_issued"]
    return bool(issued) and (issued["verdict"], issued["sentence"]) != (finding["verdict"], finding["sentence"])


def _verdict_notes(finding: dict) -> tuple[str, ...]:
    notes = [] if finding["final"] else ["not final"]
    if differs(finding):
        notes.append(f"first issued as {finding['as_issued']['verdict']}")
    if finding["remedied_by"]:
        notes.append(f"remedied by check {finding['remedied_by']}")
    if finding["concession"] is not None:
        notes.append(f"concession {finding['concession'] + 1}")
    return tuple(notes)
