"""The logger with everything around it that a running shop needs: store, broker, notifiers, put up and taken down in order."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from booth.clocks import Clock
from booth.logger import Logger, Notifier
from booth.mirror import mirroring
from booth.notify.beacon import Beacons
from booth.notify.mqtt import MqttAlarms
from booth.readers.brokers import Brokers
from booth.readers.mqtt import Broker, MqttReader
from booth.readers.retained import retained_topics
from booth.shop.shop import Shop
from booth.store import Store
from booth.upkeep import keeping_up
from booth.wiring import brokers as brokers_of
from booth.wiring import point_map


class Service(Logger):
    """A logger that knows its reader."""

    reader: Brokers

    def run_until_stopped(self) -> None:
        """Receive and judge until `stopping` is set."""
        self.run(self.reader)


@contextmanager
def serve(
    shop: Shop, directory: Path, clock: Clock, notifiers: Sequence[Notifier], host: str | None = None, port: int | None = None
) -> Iterator[Service]:
    """A service that is connected, or trying to be. Raises StoreError when another logger writes into this store."""
    brokers = brokers_of(shop.site.mqtt, host, port)
    with Store.open(directory, writer=True) as store:
        logger = Service(shop, store, clock, notifiers)
        heard, ids, known = _last_heard(store), shop.site.mqtt.client_ids(), _known_before(store)
        logger.reader = Brokers(
            lambda room: [
                MqttReader(
                    one,
                    ids[name],
                    point_map(shop).filters(),
                    clock.now,
                    last_heard=heard if not name or name in known else None,
                    name=name,
                    waiting_room=room,
                )
                for name, one in brokers.items()
            ]
        )
        alarms = MqttAlarms(logger.reader.publish, lambda wanted: _retained(brokers.values(), wanted))
        logger.notifiers = [*notifiers, alarms]
        logger.on_first_look = lambda: _say_again(logger, alarms)
        logger.listeners += [_SayAgainOnReconnect(one) for one in logger.reader.readers]
        logger.listeners += [_Beacon(one, shop) for one in logger.reader.readers]
        logger.reader.start()
        try:
            with mirroring(shop, directory), keeping_up(shop, directory, clock):
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


class _Beacon:
    """The beacons of all booths, kept in time with the broker: what couldn't be said while it was away is not said afterwards."""

    def __init__(self, reader: MqttReader, shop: Shop) -> None:
        self._reader = reader
        self._beacons = Beacons(reader.publish, [name for name, booth in shop.booths.items() if booth.mode_point is not None])

    def __call__(self, logger: Logger, now: int) -> None:
        if self._reader.connected:
            self._beacons.show(logger.watch.book.standing().values(), now)


def _retained(brokers: Iterable[Broker], wanted: str) -> set[str]:
    """Topics that any of the brokers has retained. Raises TimeoutError or OSError where none answers."""
    found: set[str] = set()
    silent: list[Exception] = []
    for broker in (brokers := list(brokers)):
        try:
            found.update(retained_topics(broker, wanted))
        except (TimeoutError, OSError) as problem:
            silent.append(problem)
    if len(silent) == len(brokers):
        raise silent[0]
    return found


def _last_heard(store: Store) -> int | None:
    """When an earlier logger last received something, so that a session lost since then is noticed."""
    newest = None
    for entry in store.journal.entries(kinds=["logger-stop", "logger-start", "finding", "alarm"]):
        newest = entry.recorded
    return newest


def _known_before(store: Store) -> set[str]:
    """Further brokers of the configuration that was in force before: one that is new has no session that it could have lost."""
    site = ""
    for entry in store.journal.entries(kinds=["config"]):
        site = entry.body["files"].get("site.toml", "")
    return set(tomllib.loads(site).get("mqtt", {}).get("brokers", {}))


def _say_again(logger: Service, alarms: MqttAlarms) -> None:
    """After a restart: publish what stands, clear what doesn't."""
    standing = logger.announce_standing()
    try:
        alarms.clear_stale(standing)
    except (TimeoutError, OSError):
        return  # no broker yet: what stands is queued, and stale topics wait for the next start
