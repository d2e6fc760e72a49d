"""InfluxDB 2's address of a write in front of an influxd 1.6, and the faults that a network and a busy server have."""

from __future__ import annotations

import json
import threading
import time
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.error import HTTPError, URLError
from urllib.parse import parse_qs, urlencode, urlsplit
from urllib.request import Request, urlopen

from tests.mirror.peers import Influxd

TOKEN = "a made-up token"


@dataclass
class Fault:
    """What happens to one write: answered with `status` (0: forwarded), after waiting `before` seconds; `then` runs once the real
    server has answered; `mute`: its answer is lost on the way."""

    status: int = 0
    retry_after: str | None = None
    before: float = 0.0
    mute: bool = False
    then: Callable[[], None] | None = None


class Shim:
    """`faults` are used up one for each write; `answers` are the statuses given, `when` the moments (monotonic)."""

    def __init__(self, influxd: Influxd) -> None:
        self.influxd = influxd
        self.faults: deque[Fault] = deque()
        self.answers: list[int] = []
        self.when: list[float] = []
        handler = type("Handler", (_Handler,), {"shim": self})
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), handler)
        self._server.daemon_threads = True
        self._thread = threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
        self._thread.start()

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self._server.server_port}"

    def close(self) -> None:
        self._server.shutdown()
        self._server.server_close()


class _Handler(BaseHTTPRequestHandler):
    shim: Shim
    protocol_version = "HTTP/1.1"

    def do_POST(self) -> None:  # noqa: N802 -- the library's name
        body = self.rfile.read(int(self.headers["Content-Length"]))
        self.shim.when.append(time.monotonic())
        fault = self.shim.faults.popleft() if self.shim.faults else Fault()
        time.sleep(fault.before)
        if fault.status:
            return self._answer(fault.status, "made up", fault.retry_after)
        status, reason = self._forward(body)
        if fault.then is not None:
            fault.then()
        if fault.mute:
            self.close_connection = True
            return self.shim.answers.append(0)
        self._answer(status, reason, None)

    def _forward(self, body: bytes) -> tuple[int, str]:
        if self.headers["Authorization"] != f"Token {TOKEN}":
            return 401, "unauthorized access"
        asked = parse_qs(urlsplit(self.path).query)
        target = urlencode({"db": asked["bucket"][0], "precision": asked["precision"][0][:1]})
        request = Request(f"{self.shim.influxd.url}/write?{target}", data=body, method="POST")
        if self.headers["Content-Encoding"]:
            request.add_header("Content-Encoding", self.headers["Content-Encoding"])
        try:
            with urlopen(request, timeout=20) as answer:
                return answer.status, ""
        except HTTPError as problem:
            with problem:
                return problem.code, json.loads(problem.read() or b"{}").get("error", "")
        except (URLError, OSError):
            return 502, "influxd is away"

    def _answer(self, status: int, reason: str, retry_after: str | None) -> None:
        body = b"" if status == 204 else json.dumps({"code": "made up", "message": reason}).encode()
        self.shim.answers.append(status)
        self.send_response(status)
        if retry_after is not None:
            self.send_header("Retry-After", retry_after)
        self.send_header("Content-Length", str(len(body)))
        with suppress(ConnectionError):  # whoever asked was killed
            self.end_headers()
            self.wfile.write(body)

    def log_message(self, *_: object) -> None:
        """Quiet."""
