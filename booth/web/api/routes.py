"""The public read API: the table of calls as pages, for people signed in and for programs with a token."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from booth.times import TimeError, parse_time
from booth.web.api.api_calls import CALLS, Asked, Call, Parameter
from booth.web.api.api_description import description
from booth.web.board import Board
from booth.web.desk.shared import Desk, desk_of
from booth.web.pages import Endpoint, Page


def _endpoint(call: Call) -> Endpoint:
    async def endpoint(request: Request) -> Response:
        given = _given(call, request)
        answer = await run_in_threadpool(_answer, call, request.app.state.board, desk_of(request), given)
        return _json(request, answer)

    return endpoint


def _answer(call: Call, board: Board, desk: Desk, given: dict[str, Any]) -> dict[str, Any]:
    with board.store() as store:
        return call.function(Asked(board, store, desk, given))


def _given(call: Call, request: Request) -> dict[str, Any]:
    """The parameters as the call's table has them. Raises HTTPException 422 naming the one that isn't, and what is expected."""
    known = {one.name: one for one in call.parameters}
    sent = request.query_params.multi_items() + list(request.path_params.items())
    found: dict[str, Any] = {}
    for name, text in sent:
        if name not in known or name in found:
            names = ", ".join(known) or "none"
            raise HTTPException(422, f"{name!r} can't be given{' twice' if name in found else ''}; known parameters: {names}")
        found[name] = _read(known[name], text)
    return found


def _read(parameter: Parameter, text: str) -> Any:
    schema, name = parameter.schema, parameter.name
    if schema["type"] == "integer":
        if not (text.isascii() and text.isdigit() and len(text) < 10 and schema["minimum"] <= int(text) <= schema["maximum"]):
            raise HTTPException(422, f"{name}: {text!r} is not a whole number from {schema['minimum']} to {schema['maximum']}")
        return int(text)
    if "enum" in schema and text not in schema["enum"]:
        raise HTTPException(422, f"{name}: {text!r} is not one of {', '.join(schema['enum'])}")
    if len(text) > schema.get("maxLength", len(text)):
        raise HTTPException(422, f"{name}: more than {schema['maxLength']} characters")
    if schema.get("format") == "date-time":
        try:
            parse_time(text)
        except TimeError as error:
            raise HTTPException(422, f"{name}: {error}") from None
    return text


def _json(request: Request, answer: dict[str, Any]) -> Response:
    """With the hash of its bytes as ETag, so that who asks every minute is told in a few bytes that nothing is new."""
    body = json.dumps(answer, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()
    headers = {"ETag": f'"{hashlib.sha256(body).hexdigest()[:32]}"', "Cache-Control": "private, no-cache"}
    if headers["ETag"] in [one.strip() for one in request.headers.get("if-none-match", "").split(",")]:
        return Response(status_code=304, headers=headers)
    return Response(body, headers=headers, media_type="application/json")


async def openapi(request: Request) -> Response:
    return _json(request, description())


PAGES = (
    *(Page(call.path.replace("{vehicle}", "{vehicle:path}"), f"api-{call.name}", _endpoint(call), token=True) for call in CALLS),
    Page("/api/openapi.json", "openapi", openapi, token=True),
)
