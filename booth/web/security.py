"""What every answer carries, and which names a request may ask for."""

from __future__ import annotations

from starlette.datastructures import MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from booth.shop.board import Board as Settings

CONTENT_SECURITY_POLICY = "; ".join(
    (
        *("default-src 'none'", "script-src 'self'", "style-src 'self'", "img-src 'self' data:", "connect-src 'self'"),
        *("font-src 'self'", "media-src 'self'", "form-action 'self'", "frame-ancestors 'none'", "base-uri 'none'"),
    )
)
HEADERS = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",  # no-referrer would make browsers send "Origin: null" with our own forms
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
STRICT_TRANSPORT = "max-age=31536000"


def headers_of(settings: Settings) -> dict[str, str]:
    return HEADERS | ({"Strict-Transport-Security": STRICT_TRANSPORT} if settings.https else {})


class Security:
    """Around the whole application, error pages included."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self._app, self._headers, self._hosts = app, headers_of(settings), settings.hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in self._headers.items():
                    headers.setdefault(name, value)
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        app = self._app if _host(scope) in self._hosts else _WRONG_HOST
        await app(scope, receive, send_with_headers)


_WRONG_HOST = PlainTextResponse(
    "This board is not known under that name. Open it under its own, or add the name to allowed_hosts in [board].\n", 421
)


def _host(scope: Scope) -> str:
    """The host that a request asks for, without its port."""
    named = [value.decode("latin-1").lower() for key, value in scope["headers"] if key == b"host"]
    if len(named) != 1:
        return ""
    host, colon, port = named[0].rpartition(":")
    return host if colon and port.isdigit() else named[0]
