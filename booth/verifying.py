"""Checks that hold the past against itself: evidence hashes in the journal, and a record document against the store."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from booth.grounds import grounds_in
from booth.reports.judged import NoSuchVehicle, judge_vehicle
from booth.reports.record import build_record
from booth.shop.shop import Shop
from booth.store import Store
from booth.times import TimeError, format_time, parse_time

NOT_OF_THE_STORE = ("journal", "software", "cautions")
"""Keys of a record that tell of the program that made it, or are checked by themselves."""


class DocumentError(ValueError):
    """A file that is not a record; the text says which, and what to write."""


def verify_evidence(store: Store) -> tuple[int, list[str]]:
    """Recompute each evidence hash that the journal holds: (how many, what is wrong).

    Late readings may have come after a hash was written; the hash is therefore taken over what had arrived by then.
    """
    problems, checked = [], 0
    for entry in store.journal.entries(kinds=["finding"]):
        body = entry.body
        for ground, sha256 in grounds_in(body):
            checked += 1
            if ground.sha256(store.readings, known_by=entry.recorded) != sha256:
                start, end = format_time(ground.start), format_time(ground.end)
                problems.append(
                    f"evidence of {body['vehicle']} {body['step']} (entry {entry.seq}): the readings of {start} to {end} "
                    "are not those that were judged"
                )
    return checked, problems


def read_record(document: Path) -> dict[str, Any]:
    """A record as JSON. Raises DocumentError."""
    example = "write the path of a file made by 'booth record VEHICLE --format json'"
    try:
        record = json.loads(document.read_text(encoding="utf-8"))
        parse_time(record["issued"]), record["vehicle"], record["journal"]["head"], record["rounds"][0]["steps"]
        if not isinstance(record["journal"]["entries"], int):
            raise TypeError("journal.entries is no number")
    except OSError as problem:
        raise DocumentError(f"{document}: {problem.strerror}; {example}") from None
    except (ValueError, KeyError, IndexError, TypeError, TimeError) as problem:
        raise DocumentError(f"{document}: not a paint record as JSON ({problem}); {example}") from None
    return record


def verify_record(shop: Shop, store: Store, record: dict[str, Any]) -> list[str]:
    """What in a record doesn't agree with the store: its head, then whatever the store judges otherwise.

    The record is made again as of its moment, out of the entries that the journal had when it was made.
    """
    vehicle, entries = record["vehicle"], record["journal"]["entries"]
    at = next((entry for entry in store.journal.entries(after=entries - 1)), None)
    if at is None or (at.seq, at.hash) != (entries, record["journal"]["head"]):
        return [f"the record's journal head {record['journal']['head'][:16]}… at entry {entries} is not this journal's"]
    known_by = record.get("known_by")
    try:
        judged = judge_vehicle(
            shop, store, vehicle, parse_time(record["issued"]), known_by and parse_time(known_by), first_entries=entries
        )
    except NoSuchVehicle as problem:
        return [f"the record is of a vehicle that this store doesn't know: {problem}"]
    again = json.loads(json.dumps(build_record(judged)))
    kept, made = ({key: value for key, value in one.items() if key not in NOT_OF_THE_STORE} for one in (record, again))
    found = [f"{vehicle}: {place}: the record says {_short(a)}, the store {_short(b)}" for place, a, b in differences(kept, made)]
    made_by, own = record.get("software", {}).get("version"), again["software"]["version"]
    if found and made_by != own:
        found.append(f"the record was made by version {made_by} of this program, which is {own}: differences may come from that")
    return found


def differences(one: Any, other: Any, place: str = "") -> Iterator[tuple[str, Any, Any]]:
    """(place, value here, value there) wherever two JSON values differ, as deep as possible."""
    if isinstance(one, dict) and isinstance(other, dict):
        for key in dict.fromkeys((*one, *other)):
            yield from differences(one.get(key), other.get(key), f"{place}.{_name(one, other, key)}".lstrip("."))
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for index, (left, right) in enumerate(zip(one, other, strict=True)):
            yield from differences(left, right, f"{place}[{_label(left, index)}]")
    elif one != other and not _same_number(one, other):
        yield place, one, other


def _same_number(one: Any, other: Any) -> bool:
    """Another machine's processor may round the last bit otherwise."""
    numbers = isinstance(one, float) and isinstance(other, float)
    return numbers and math.isclose(one, other, rel_tol=1e-9)


def _name(one: dict, other: dict, key: str) -> str:
    return key if key in one and key in other else f"{key} (in one only)"


def _label(value: Any, index: int) -> str:
    """How a reader knows an element of a list: by its requirement or step, else by its place."""
    names = [value[key] for key in ("requirement", "step", "alarm", "point") if key in value] if isinstance(value, dict) else []
    return str(names[0]) if names else str(index)


def _short(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 60 else f"{text[:57]}…"
