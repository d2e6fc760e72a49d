"""JSON schemas (2020-12, as OpenAPI 3.1 has them) of what the API answers."""

from __future__ import annotations

from typing import Any

Schema = dict[str, Any]


def thing(**properties: Schema) -> Schema:
    """An object that has exactly these keys."""
    return {"type": "object", "properties": properties, "required": list(properties), "additionalProperties": False}


def many(schema: Schema) -> Schema:
    return {"type": "array", "items": schema}


def named(schema: Schema) -> Schema:
    """An object whose keys are somebody's names."""
    return {"type": "object", "additionalProperties": schema}


def or_null(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]}


TEXT: Schema = {"type": "string"}
FLAG: Schema = {"type": "boolean"}
NUMBER: Schema = {"type": "number"}
COUNT: Schema = {"type": "integer", "minimum": 0}
MOMENT: Schema = {"type": "string", "format": "date-time"}
SHA256: Schema = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
VERDICT: Schema = {"type": "string", "enum": ["met", "missed", "unproven"]}
AS_ISSUED: Schema = {**VERDICT, "description": "As issued at each step's end; the record says what it is by what is known now."}
ANYTHING: Schema = {"type": "object"}

ERROR = thing(status={"type": "integer"}, error=TEXT, detail=TEXT)
JOURNAL = thing(entries=COUNT, head=SHA256)

VEHICLE = thing(
    vehicle=TEXT,
    process=TEXT,
    opened=MOMENT,
    closed=or_null(MOMENT),
    round=COUNT,
    verdict=AS_ISSUED,
    state=TEXT,
    booths=many(TEXT),
    lots=many(TEXT),
)
VEHICLES = thing(total=COUNT, offset=COUNT, vehicles=many(VEHICLE))

VALUE = thing(text=TEXT, time=or_null(MOMENT), age_s=or_null(NUMBER), usable=FLAG)
BOOTH = thing(name=TEXT, kind=TEXT, vans=many(TEXT), last_heard=or_null(MOMENT), points=named(VALUE))
WINDOW = thing(
    requirement=TEXT, earliest=or_null(MOMENT), latest=or_null(MOMENT), sooner_s=or_null(NUMBER), later_s=or_null(NUMBER)
)
OPEN_JOB = thing(
    vehicle=TEXT,
    process=TEXT,
    booth=or_null(TEXT),
    round=COUNT,
    opened=MOMENT,
    step=or_null(TEXT),
    last_heard=MOMENT,
    heard=FLAG,
    verdict_so_far=VERDICT,
    missed=many(TEXT),
    windows=many(WINDOW),
)
CAUTIONS = many(TEXT)
BOOTHS = thing(at=MOMENT, booths=named(BOOTH), open_jobs=many(OPEN_JOB), cautions=CAUTIONS)
ONE_BOOTH = thing(**BOOTH["properties"], cautions=CAUTIONS)
ALARM = thing(
    alarm=TEXT,
    booth=or_null(TEXT),
    vehicle=or_null(TEXT),
    priority={"type": "string", "enum": ["warning", "alarm", "hazard"]},
    state={"type": "string", "enum": ["unacknowledged", "acknowledged", "returned_unacknowledged", "shelved"]},
    raised=MOMENT,
    sentence=TEXT,
    what_to_do=TEXT,
)
ALARMS = thing(at=MOMENT, alarms=many(ALARM), cautions=CAUTIONS)
REFUSED = thing(arrived=MOMENT, reader=TEXT, origin=TEXT, reason=TEXT, sentence=TEXT)
QUARANTINE = thing(total=COUNT, counts=named(COUNT), recent=many(REFUSED))

_FINDINGS = many({"type": "object", "required": ["requirement", "verdict", "final", "sentence", "evidence_sha256"]})
_STEP = {
    "type": "object",
    "properties": {"step": TEXT, "kind": TEXT, "start": or_null(MOMENT), "end": or_null(MOMENT), "findings": _FINDINGS},
    "required": ["step", "kind", "start", "end", "source", "findings"],
}
_ROUND = {
    "type": "object",
    "properties": {"round": COUNT, "verdict": VERDICT, "findings": _FINDINGS, "steps": many(_STEP)},
    "required": ["round", "verdict", "findings", "steps"],
}
RECORD = thing(
    vehicle=TEXT,
    issued=MOMENT,
    known_by=or_null(MOMENT),
    site=thing(name=TEXT, invented=FLAG, time_zone=TEXT),
    job=ANYTHING,
    verdict=VERDICT,
    summary=many(TEXT),
    rounds=many(_ROUND),
    **dict.fromkeys(
        ("checks", "lots", "mixes", "film", "alarms", "concessions", "corrections", "releases", "notes"), many(ANYTHING)
    ),
    instruments=many(ANYTHING),
    process=ANYTHING,
    config=thing(sha256=SHA256),
    journal=thing(head=SHA256, entries=COUNT, verified=FLAG),
    cautions=many(TEXT),
    software=thing(name=TEXT, version=TEXT),
)
"""docs/record.md says what every key holds."""
