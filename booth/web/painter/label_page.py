"""A van's label as an image, for whoever prints one at the booth."""

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from booth.reports.labels import LabelError, label_svg
from booth.web.pages import ONLOOKERS, Page


async def label(request: Request) -> Response:
    try:
        image = label_svg(request.path_params["vehicle"])
    except LabelError as problem:
        raise HTTPException(404, str(problem)) from None
    return Response(image, media_type="image/svg+xml", headers={"Cache-Control": "no-store"})


PAGES = (Page("/label/{vehicle}", "label", label, roles=ONLOOKERS),)
