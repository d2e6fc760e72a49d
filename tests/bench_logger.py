"""The logger as `booth run` starts it, in a process of its own, noting how long readings wait for their commit: for bench_ingest.

`python -m tests.bench_logger CONFIG STORE HOST PORT NOTES COUNT`; at SIGTERM, or after COUNT messages, it stops and writes NOTES
as JSON. The waits are a histogram, so that an hour of them takes no more memory than a minute.
"""

from __future__ import annotations

import json
import signal
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from booth.cli.app import read_shop
from booth.clocks import SystemClock
from booth.readers.received import Received, SessionLost
from booth.service import serve


class NotingReader:
    """The service's reader; an acknowledgement is asked for right after the commit, so that is when it looks at the clock."""

    def __init__(self, reader, stop_after: int, stop: Callable[[], None]) -> None:
        self._reader, self._now = reader, SystemClock().now
        self._stop_after, self._stop = stop_after, stop
        self.committed, self.first_arrival, self.last_commit = 0, 0, 0
        self.waited_ms: Counter[int] = Counter()

    def get(self, timeout: float) -> Received | SessionLost | None:
        return self._reader.get(timeout)

    def acknowledge(self, received: Received) -> None:
        now = self._now()
        self._reader.acknowledge(received)
        self.first_arrival = self.first_arrival or received.arrived
        self.last_commit = now
        self.committed += 1
        self.waited_ms[-((received.arrived - now) // 1000)] += 1  # rounded up
        if self.committed == self._stop_after:
            self._stop()

    def publish(self, topic: str, payload: bytes, retain: bool = False) -> None:
        self._reader.publish(topic, payload, retain)


def main(config: str, store: str, host: str, port: str, notes: str, stop_after: str) -> None:
    with serve(read_shop(Path(config)), Path(store), SystemClock(), [], host, int(port)) as logger:
        noting = NotingReader(logger.reader, int(stop_after), logger.stopping.set)
        signal.signal(signal.SIGTERM, lambda *_: logger.stopping.set())
        logger.run(noting)
        found = {
            "committed": noting.committed,
            "seconds": (noting.last_commit - noting.first_arrival) / 1e6,
            "waited_ms": sorted(noting.waited_ms.items()),
            "quarantined": logger.counts.quarantined,
            "readings": logger.counts.readings,
        }
        Path(notes).write_text(json.dumps(found), encoding="utf-8")


if __name__ == "__main__":
    main(*sys.argv[1:])
