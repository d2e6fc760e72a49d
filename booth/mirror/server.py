"""The shop's InfluxDB: one write, and what its answer means. Only 204 means that the lines are kept (InfluxDB API v2, /write).

The client's own batching drops what it can't send in time, and its synchronous writes aren't repeated; so one write is one
request here, and repeating is the loop's business.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime

from booth.mirror.settings import TOKEN_VARIABLE, Settings

TIMEOUT_S = 10.0
LONGEST_WAIT_S = 3600.0
NOT_THE_LINES = {
    401: f"the server refuses the token; check token_file or {TOKEN_VARIABLE}",
    403: "the token may not write into this bucket; give it write access there",
    404: "the server knows no such bucket, organisation or address",
    429: "the server asks us to wait",
    503: "the server is too busy",
}

TOO_OLD = re.compile(r"beyond retention policy dropped=(\d+)|dropped (\d+) points outside retention policy")
"""The words of a 1.6, which the tests hear, and those of later servers (from memory)."""


class Unavailable(Exception):
    """Nothing is known to be kept; try again, after `wait_s` if the server said so."""

    def __init__(self, sentence: str, wait_s: float | None = None) -> None:
        super().__init__(sentence)
        self.wait_s = wait_s


class Refused(Exception):
    """The server takes at least one of the lines neither now nor later; it may have kept the others.

    `too_old`: how many of them the bucket's retention dropped, all others being kept; None for any other reason.
    """

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        dropped = TOO_OLD.search(reason)
        self.too_old = int(dropped[1] or dropped[2]) if dropped else None


class Server:
    """A connection that is kept open between writes."""

    def __init__(self, settings: Settings, timeout_s: float = TIMEOUT_S) -> None:
        from influxdb_client import InfluxDBClient, WriteService

        self._settings = settings
        self._client = InfluxDBClient(
            settings.url,
            settings.token,
            org=settings.organization,
            timeout=round(timeout_s * 1000),
            enable_gzip=True,
            ssl_ca_cert=settings.ca_file,
        )
        self._service = WriteService(self._client.api_client)

    def write(self, lines: Sequence[str]) -> None:
        """Returns when the server keeps them all. Raises Refused or Unavailable."""
        from influxdb_client.rest import ApiException
        from urllib3.exceptions import HTTPError

        try:
            _, status, _ = self._service.post_write_with_http_info(
                org=self._settings.organization,
                bucket=self._settings.bucket,
                body="\n".join(lines).encode(),
                precision="ns",
                content_type="text/plain; charset=utf-8",
            )
        except ApiException as answer:
            raise self._meaning(answer) from None
        except (HTTPError, OSError, ValueError) as problem:  # ValueError: an answer that is no text
            raise Unavailable(f"no answer from {self._settings.url} ({type(problem).__name__}): is it up?") from problem
        if status != 204:
            raise Unavailable(f"{self._settings.url} answers {status} where InfluxDB says 204; does the address lead to it?")

    def close(self) -> None:
        self._client.close()

    def _meaning(self, answer: Exception) -> Exception:
        status, said = answer.status, _said(answer)
        if status in (400, 413, 422):
            return Refused(said or f"the server answers {status}")
        sentence = NOT_THE_LINES.get(status, "it should have said 204")
        return Unavailable(f"{self._settings.url} answers {status}, {sentence}{f' ({said})' if said else ''}", _wait_s(answer))


def _said(answer: Exception) -> str:
    """The server's own words, on one line. It quotes the line before it says what is wrong: cut out of the middle."""
    words = " ".join(str(getattr(answer, "message", "") or "").split())
    return words if len(words) <= 400 else f"{words[:200]} … {words[-200:]}"


def _wait_s(answer: Exception) -> float | None:
    """Seconds of Retry-After, which is a number or a date (RFC 9110 section 10.2.3); None if there is none that can be read."""
    text = getattr(answer, "retry_after", None)
    if not text:
        return None
    try:
        wait = float(text) if text.strip().isdigit() else _until(text)
    except (TypeError, ValueError):
        return None
    return min(max(wait, 0.0), LONGEST_WAIT_S)


def _until(date: str) -> float:
    moment = parsedate_to_datetime(date)
    return (moment - datetime.now(UTC)).total_seconds()
