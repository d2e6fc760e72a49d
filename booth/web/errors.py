"""Errors as plain pages, or as JSON for programs. The log has the traceback; the page never does."""

from __future__ import annotations

import json
from http import HTTPStatus

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from booth.web.render import render
from booth.web.security import headers_of

HEADINGS = {
    401: "You are not signed in",
    403: "This may not be done",
    404: "There is no such page",
    405: "This can't be done here",
    408: "It took too long",
    413: "That is too much",
    422: "This could not be taken",
    429: "Too many attempts",
    503: "The store does not answer",
}


def refused(request: Request, error: HTTPException) -> Response:
    """What a page refuses, with its reason."""
    return said(request, error.status_code, error.detail, dict(error.headers or {}))


def unfit(request: Request, error: Exception) -> Response:
    """An event, account or question that can't be taken; the error's sentence says why."""
    return said(request, 422, str(error))


def unknown(request: Request, error: Exception) -> Response:
    return said(request, 404, str(error))


def no_store(request: Request, error: Exception) -> Response:
    return said(request, 503, str(error), {"Retry-After": "5"})


def failed(request: Request, _error: Exception) -> Response:
    """A mistake of ours. Starlette raises it again after this answer, so that the log has it."""
    response = said(request, 500, "What you sent was kept only if you see it on the page it belongs to. The log says more.")
    response.headers.update(headers_of(request.app.state.board.settings))
    return response


def said(request: Request, status: int, sentence: str, headers: dict[str, str] | None = None) -> Response:
    heading = HEADINGS.get(status) or HTTPStatus(status).phrase
    if request.url.path.startswith("/api/"):
        body = json.dumps({"status": status, "error": heading, "detail": sentence}, ensure_ascii=False)
        return Response(body, status, headers, "application/json")
    if sentence == HTTPStatus(status).phrase:
        sentence = ""
    response = render(request, "error.html", status, heading=heading, sentence=sentence)
    response.headers.update(headers or {})
    return response
