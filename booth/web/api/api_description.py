"""The OpenAPI 3.1 description, written from the table of calls."""

from __future__ import annotations

from typing import Any

import booth
from booth.web.api import api_shapes as shapes
from booth.web.api.api_calls import CALLS, Call

PROBLEMS = {
    "401": "Neither signed in nor an API token.",
    "404": "There is no such van or booth.",
    "422": "A parameter that isn't known or can't be read.",
    "503": "The store does not answer; try again.",
}


def description() -> dict[str, Any]:
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Booth logger: read API",
            "version": "1",
            "summary": "Records, booths, alarms and the journal's end, to read.",
            "description": f"Made by booth-logger {booth.__version__}. A record-keeping aid: no interlock, no gas detector.",
        },
        "paths": {call.path: {"get": _operation(call)} for call in CALLS},
        "components": {
            "schemas": {"Error": shapes.ERROR},
            "securitySchemes": {
                "token": {"type": "http", "scheme": "bearer", "description": "Made by an admin on the page Accounts."},
                "session": {"type": "apiKey", "in": "cookie", "name": "booth_session"},
            },
        },
        "security": [{"token": []}, {"session": []}],
    }


def _operation(call: Call) -> dict[str, Any]:
    return {
        "operationId": call.name,
        "summary": call.says,
        "parameters": [
            {"name": one.name, "in": one.place, "required": one.place == "path", "description": one.says, "schema": one.schema}
            for one in call.parameters
        ],
        "responses": {
            "200": {"description": "The answer.", "headers": _ETAG, "content": {"application/json": {"schema": call.answer}}},
            "304": {"description": "It is as If-None-Match says that you have it."},
            **{status: _problem(says) for status, says in PROBLEMS.items()},
        },
    }


_ETAG = {"ETag": {"description": "Send it back as If-None-Match.", "schema": {"type": "string"}}}


def _problem(says: str) -> dict[str, Any]:
    return {"description": says, "content": {"application/json": {"schema": {"$ref": "#/components/schemas/Error"}}}}
