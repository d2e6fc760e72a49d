"""The two real servers that the mirror is tested against, on free loopback ports and folders of the test's own.

InfluxDB 2 can't be had here. Debian's influxd 1.6 has the genuine parser, types, nanoseconds and durability; `shim.py` puts the
address of version 2 in front of it. VictoriaMetrics speaks version 2's write by itself, but keeps milliseconds and no texts.
"""

from __future__ import annotations

import json
import shutil
import signal
import socket
import subprocess
import time
from pathlib import Path
from urllib.error import HTTPError, URLError
from urllib.parse import urlencode
from urllib.request import Request, urlopen

_INFLUX_CONFIG = """\
reporting-enabled = false
bind-address = "127.0.0.1:{rpc}"
[meta]
  dir = "{folder}/meta"
[data]
  dir = "{folder}/data"
  wal-dir = "{folder}/wal"
[monitor]
  store-enabled = false
[http]
  bind-address = "127.0.0.1:{port}"
  log-enabled = false
"""


class Peer:
    """A server in a folder: started, stopped, killed, and started again on what it kept."""

    program, package, health = "", "", ""

    def __init__(self, folder: Path) -> None:
        found = shutil.which(self.program)
        if found is None:
            raise AssertionError(f"there is no {self.program}, so this test can't run; install {self.package}: run 'make setup'")
        folder.mkdir()
        self.folder, self.port, self._program = folder, free_port(), found
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def command(self) -> list[str]:
        raise NotImplementedError

    def start(self) -> None:
        """Returns when it answers."""
        with (self.folder / "log").open("ab") as log:
            self._process = subprocess.Popen([self._program, *self.command()], stdout=log, stderr=log)
        deadline = time.monotonic() + 20
        while time.monotonic() < deadline and self._process.poll() is None:
            try:
                return get(self.url + self.health)
            except (URLError, OSError):
                time.sleep(0.02)
        self.stop()
        raise AssertionError(f"{self.program} did not start: {(self.folder / 'log').read_text(errors='replace')[-2000:]}")

    def kill(self) -> None:
        self._end(signal.SIGKILL)

    def stop(self) -> None:
        self._end(signal.SIGTERM)

    def _end(self, how: int) -> None:
        if self._process is not None and self._process.poll() is None:
            self._process.send_signal(how)
            try:
                self._process.wait(20)
            except subprocess.TimeoutExpired:
                self._process.kill()
                self._process.wait()


class Influxd(Peer):
    """Debian's influxd 1.6.7."""

    program, package, health = "influxd", "Debian's influxdb", "/ping"

    def command(self) -> list[str]:
        config = self.folder / "influx.conf"
        config.write_text(_INFLUX_CONFIG.format(folder=self.folder, port=self.port, rpc=free_port()), encoding="utf-8")
        return ["run", "-config", str(config)]

    def query(self, influxql: str, database: str = "booths") -> list[dict]:
        """Every row of the answer, tags and columns together."""
        body = urlencode({"q": influxql, "db": database, "epoch": "ns"}).encode()
        answer = json.loads(get(f"{self.url}/query", body))["results"][0]
        assert "error" not in answer, answer
        return [
            series.get("tags", {}) | dict(zip(series["columns"], row, strict=True))
            for series in answer.get("series", [])
            for row in series.get("values", [])
        ]


class VictoriaMetrics(Peer):
    """Debian's victoria-metrics 1.79. Without the deduplication a line that is sent again would be kept twice."""

    program, package, health = "victoria-metrics", "Debian's victoria-metrics", "/health"

    def command(self) -> list[str]:
        options = {"httpListenAddr": f"127.0.0.1:{self.port}", "storageDataPath": str(self.folder / "data")}
        options |= {"retentionPeriod": "100y", "dedup.minScrapeInterval": "1ms", "search.latencyOffset": "0s"}
        return [f"-{name}={value}" for name, value in options.items()]

    def export(self, series: str) -> list[dict]:
        """Labels with lists of values and of times in milliseconds."""
        get(f"{self.url}/internal/force_flush")
        answer = get(f"{self.url}/api/v1/export?{urlencode({'match[]': series, 'reduce_mem_usage': 0})}")
        return [json.loads(line) for line in answer.splitlines()]


def get(url: str, body: bytes | None = None) -> bytes:
    try:
        with urlopen(Request(url, data=body), timeout=10) as answer:
            return answer.read()
    except HTTPError as problem:
        problem.close()
        raise


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]
