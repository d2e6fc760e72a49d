"""The board's server: where it listens, under which conditions, and how it ends."""

from __future__ import annotations

import ipaddress
import logging
import socket
import ssl
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import uvicorn
from starlette.concurrency import run_in_threadpool
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Receive, Scope, Send
from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware

from booth.secret_file import secret_problem
from booth.shop.board import ANY_ADDRESS
from booth.shop.board import Board as Settings
from booth.web.app import create_app
from booth.web.board import Board
from booth.web.patience import Impatient
from booth.web.people.accounts import Accounts

CONNECTIONS = 256  # more get 503: screens of a shop are tens
END_S = 2
LONGEST_HEAD = 16 * 1024

log = logging.getLogger(__name__)


class Server(uvicorn.Server):
    """Ends when it is told to. Signals are for whoever started it."""

    def __init__(self, board: Board) -> None:
        settings = board.settings
        super().__init__(
            uvicorn.Config(
                served(board),
                http=Impatient,
                ws="none",
                loop="asyncio",
                lifespan="on",
                log_config=None,
                access_log=False,  # a log of addresses would hold one-time links
                server_header=False,
                proxy_headers=False,  # `served` sees to them
                limit_concurrency=CONNECTIONS,
                h11_max_incomplete_event_size=LONGEST_HEAD,
                timeout_graceful_shutdown=END_S,
                ssl_certfile=settings.cert_file,
                ssl_keyfile=settings.key_file,
            )
        )
        self._board = board

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Live streams first: they would go on for ever."""
        if self._board.live is not None:
            await run_in_threadpool(self._board.live.stop)
        await super().shutdown(sockets)


def served(board: Board) -> ASGIApp:
    """The application as the port offers it. Behind a proxy it is the proxy's alone: whoever came past it would come without TLS.
    This machine itself is let in too, for whoever looks after it.
    """
    app, proxy = create_app(board), board.settings.behind_proxy
    if proxy is None:
        return app
    told_by_proxy = ProxyHeadersMiddleware(app, trusted_hosts=proxy)

    async def only_from_proxy(scope: Scope, receive: Receive, send: Send) -> None:
        known = scope["type"] != "http" or _is_near(scope.get("client"), proxy)
        await (told_by_proxy if known else _PAST_THE_PROXY)(scope, receive, send)

    return only_from_proxy


def _is_near(client: tuple[str, int] | None, proxy: str) -> bool:
    try:
        peer = ipaddress.ip_address(client[0] if client else "")
    except ValueError:
        return False
    return peer.is_loopback or peer == ipaddress.ip_address(proxy)


_PAST_THE_PROXY = PlainTextResponse("This board is opened through its proxy only.\n", 403)


def check(settings: Settings) -> None:
    """Raises ConfigError where the board may not listen so, with the key to write; or where a certificate can't be read."""
    wanting = settings.wanting()
    if wanting is not None:
        raise secret_problem("board", *wanting)
    if settings.cert_file is None or settings.key_file is None:
        return
    for key in ("cert_file", "key_file"):
        path = Path(getattr(settings, key))
        try:
            others = path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO)
        except OSError as error:
            raise secret_problem(f"board.{key}", f"a file that can be read ({error.strerror})", f'"{path}"') from None
        if others and key == "key_file":
            raise secret_problem("board.key_file", f"{path} can be read by others than its owner", f"chmod 600 {path}")
    try:
        context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
        context.load_cert_chain(settings.cert_file, settings.key_file, lambda: "")  # a passphrase that nobody could type
    except (OSError, ValueError) as error:
        expected = f"a certificate and, in key_file, its key without a passphrase ({error})"
        raise secret_problem("board.cert_file", expected, f'"{settings.cert_file}"') from None


def listening(host: str, port: int) -> socket.socket:
    """A listening socket. Raises OSError."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    found = socket.create_server((host, port), family=family, backlog=128)
    found.set_inheritable(False)
    return found


def address(settings: Settings) -> str:
    """Where people open it."""
    if settings.behind_proxy and settings.allowed_hosts:
        return f"https://{settings.allowed_hosts[0]}"
    host = settings.allowed_hosts[0] if settings.host in ANY_ADDRESS else settings.host
    return f"{'https' if settings.tls else 'http'}://{f'[{host}]' if ':' in host else host}:{settings.port}"


def first_link(accounts: Accounts, settings: Settings) -> str | None:
    """Where nobody can let others in yet: the one-time link that makes the first admin. Earlier ones are void."""
    return f"{address(settings)}/first/{accounts.link(None)}" if accounts.needs_first() else None
