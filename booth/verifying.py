"""Checks that hold the past against itself: evidence hashes in the journal, and a record document against the store."""

from __future__ import annotations

import json
from pathlib import Path

from booth.store import Store, Verification
from booth.times import parse_time


def verify_evidence(store: Store) -> tuple[int, list[str]]:
    """Recompute each evidence hash that the journal holds: (how many, what is wrong).

    Late readings may have come after a hash was written; the hash is therefore taken over what had arrived by then.
    """
    problems, checked = [], 0
    for entry in store.journal.entries(kinds=["finding"]):
        body = entry.body
        start, end = parse_time(body["start"]), parse_time(body["end"])
        checked += 1
        if store.readings.evidence_sha256(body["points"], start, end, known_by=entry.recorded) == body["evidence_sha256"]:
            continue
        problems.append(
            f"evidence of {body['vehicle']} {body['step']} (entry {entry.seq}): the readings of {body['start']} to {body['end']} "
            "are not those that were judged"
        )
    return checked, problems


def verify_record(store: Store, document: Path, found: Verification) -> list[str]:
    """What in a JSON record doesn't agree with the store."""
    try:
        record = json.loads(document.read_text(encoding="utf-8"))
        head, entries = record["journal"]["head"], record["journal"]["entries"]
        findings = [one for round_ in record["rounds"] for step in round_["steps"] for one in step["findings"]]
    except (OSError, ValueError, KeyError, TypeError) as problem:
        return [f"{document}: not a record that can be read ({problem}); write the path of a JSON file made by 'booth record'"]
    problems = []
    at = [entry.hash for entry in store.journal.entries(after=entries - 1) if entry.seq == entries]
    if at != [head]:
        problems.append(f"{document}: its journal head {head[:16]}… at entry {entries} is not this journal's")
    issued = {}
    for entry in store.journal.entries(vehicle=record["vehicle"], kinds=["finding"]):
        for one in entry.body["findings"]:
            issued[one["requirement"]] = one["verdict"]
    for one in findings:
        said = one.get("as_issued")
        if said is not None and issued.get(one["requirement"]) != said["verdict"]:
            journal_says = issued.get(one["requirement"])
            problems.append(f"{document}: {one['requirement']} was issued as {said['verdict']}; the journal says {journal_says}")
    return problems
