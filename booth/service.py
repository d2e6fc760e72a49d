"""The logger with everything around it that a running shop needs: store, broker, notifiers, put up and taken down in order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from booth.clocks import Clock
from booth.logger import Logger, Notifier
from booth.mirror import mirroring
from booth.notify.mqtt import MqttAlarms
from booth.readers.mqtt import MqttReader
from booth.readers.retained import retained_topics
from booth.shop.shop import Shop
from booth.store import Store
from booth.wiring import broker as broker_of
from booth.wiring import point_map


class Service(Logger):
    """A logger that knows its reader."""

    reader: MqttReader

    def run_until_stopped(self) -> None:
        """Receive and judge until `stopping` is set."""
        self.run(self.reader)


@contextmanager
def serve(
    shop: Shop, directory: Path, clock: Clock, notifiers: Sequence[Notifier], host: str | None = None, port: int | None = None
) -> Iterator[Service]:
    """A service that is connected, or trying to be. Raises StoreError when another logger writes into this store."""
    broker = broker_of(shop.site.mqtt, host, port)
    with Store.open(directory, writer=True) as store:
        logger = Service(shop, store, clock, notifiers)
        logger.reader = MqttReader(
            broker, shop.site.mqtt.client_id, point_map(shop).filters(), clock.now, last_heard=_last_heard(store)
        )
        alarms = MqttAlarms(logger.reader.publish, lambda wanted: retained_topics(broker, wanted))
        logger.notifiers = [*notifiers, alarms]
        logger.on_first_look = lambda: _say_again(logger, alarms)
        logger.listeners.append(_SayAgainOnReconnect(logger.reader))
        logger.reader.start()
        try:
            with mirroring(shop, directory):
                yield logger
        finally:
            logger.reader.stop()
            logger.close()


class _SayAgainOnReconnect:
    """A broker that came back may have forgotten what it had retained: what stands is published again."""

    def __init__(self, reader: MqttReader) -> None:
        self._reader, self._said_in = reader, reader.generation

    def __call__(self, logger: Logger, _now: int) -> None:
        if self._reader.connected and self._reader.generation != self._said_in:
            self._said_in = self._reader.generation
            logger.announce_standing()


def _last_heard(store: Store) -> int | None:
    """When an earlier logger last received something, so that a session lost since then is noticed."""
    newest = None
    for entry in store.journal.entries(kinds=["logger-stop", "logger-start", "finding", "alarm"]):
        newest = entry.recorded
    return newest


def _say_again(logger: Service, alarms: MqttAlarms) -> None:
    """After a restart: publish what stands, clear what doesn't."""
    standing = logger.announce_standing()
    try:
        alarms.clear_stale(standing)
    except (TimeoutError, OSError):
        return  # no broker yet: what stands is queued, and stale topics wait for the next start
