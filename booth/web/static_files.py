"""The board's own styles and scripts, and those of others that were brought in at set-up.

An address holds the content's hash, so that a browser may keep it for ever. Only files that were there at the start are known
by name, so that no path leads elsewhere.
"""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path
from typing import NamedTuple

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from booth.web.pages import ANYBODY, Page

FOLDERS = (Path(__file__).with_name("static"), Path(__file__).with_name("third-party"))
TYPES = {
    **{".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml"},
    **{".wav": "audio/wav", ".mp3": "audio/mpeg", ".png": "image/png", ".woff2": "font/woff2"},
}
FOR_EVER = "public, max-age=31536000, immutable"


class StaticFile(NamedTuple):
    data: bytes
    digest: str
    kind: str


@cache
def files() -> dict[str, StaticFile]:
    """Every file by its name."""
    found = {}
    for folder in FOLDERS:
        for path in sorted(folder.iterdir()) if folder.is_dir() else ():
            if path.suffix in TYPES and path.is_file():
                data = path.read_bytes()
                found[path.name] = StaticFile(data, hashlib.sha256(data).hexdigest()[:16], TYPES[path.suffix])
    return found


def url_of(name: str) -> str:
    """The address of a file, with its content's hash."""
    return f"/static/{files()[name].digest}/{name}"


async def static_file(request: Request) -> Response:
    found = files().get(request.path_params["name"])
    if found is None:
        raise HTTPException(404, "There is no such file.")
    headers = {"ETag": f'"{found.digest}"', "Cache-Control": "no-cache"}
    if request.path_params["digest"] == found.digest:
        headers["Cache-Control"] = FOR_EVER
    if request.headers.get("if-none-match") == headers["ETag"]:
        return Response(status_code=304, headers=headers)
    return Response(found.data, media_type=found.kind, headers=headers)


PAGES = (Page("/static/{digest}/{name}", "static", static_file, roles=ANYBODY),)
