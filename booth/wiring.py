"""The shop's promises in the terms of the ports: which topic is which point, how a file is read, where the broker is."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from booth.readers.mqtt import Broker
from booth.readers.points import PointMap, PointSpec, Shape, TopicMap
from booth.readers.table import Column, LongColumns, ReplayMap
from booth.shop import replay_map as configured
from booth.shop.admission import objection
from booth.shop.problems import ConfigError, ConfigProblem
from booth.shop.room import Point
from booth.shop.shop import Shop
from booth.shop.site import JsonMapping, Mqtt
from booth.units import affine


def point_map(shop: Shop, mapping: int = 1) -> PointMap:
    """What decoding needs to know of the shop; `mapping` is the number under which the journal keeps this configuration."""
    points = {
        f"{booth}/{name}": _spec(f"{booth}/{name}", point, mapping)
        for booth, room in shop.booths.items()
        for name, point in room.points.items()
    }
    return PointMap(
        points=points,
        booths=frozenset(shop.booths),
        topics=tuple(_topic(mapping) for mapping in shop.site.mqtt.mappings),
        future_tolerance_us=shop.site.judging.future_tolerance,
        check_event=lambda event: objection(event, shop),
    )


def _spec(name: str, point: Point, mapping: int) -> PointSpec:
    if point.measure == "mode":
        return PointSpec(name, "number", words=point.words, mapping=mapping)
    factor, offset = affine(point.unit, point.kind)
    low, high = point.plausible()
    return PointSpec(name, point.kind, point.unit, factor, offset, low, high, None, mapping)


def _topic(mapping: JsonMapping) -> TopicMap:
    shape = Shape(mapping.value, mapping.time, mapping.unit_at, mapping.unit, mapping.time_format)
    return TopicMap(mapping.topic, mapping.point, shape)


def replay_map(wanted: configured.ReplayMap) -> ReplayMap:
    """How to read a CSV file, as the shop's replay file says."""
    if wanted.long is not None:
        columns: object = LongColumns(wanted.long.point, wanted.long.value, wanted.long.unit)
    else:
        columns = {name: Column(column.point, column.unit or None) for name, column in wanted.columns.items()}
    return ReplayMap(
        columns,
        time=wanted.time.column,
        time_format=wanted.time.format,
        zone=wanted.time.zone,
        delimiter=wanted.delimiter,
        decimal_comma=wanted.decimal == ",",
        skip_rows=wanted.skip_rows,
        encoding=wanted.encoding,
    )


def broker(mqtt: Mqtt, host: str | None = None, port: int | None = None) -> Broker:
    """The configured broker, or the one named instead. Raises ConfigError for a password file that others can read."""
    return Broker(
        host or mqtt.host,
        port or mqtt.port,
        version=5 if mqtt.version == "5" else 3,
        username=mqtt.username,
        password=_password(mqtt),
        ca=mqtt.ca_file,
        cert=mqtt.cert_file,
        key=mqtt.key_file,
    )


def _password(mqtt: Mqtt) -> str | None:
    if mqtt.password_file is None:
        return os.environ.get("BOOTH_MQTT_PASSWORD")
    path = Path(mqtt.password_file)
    try:
        mode = path.stat().st_mode
        if mode & (stat.S_IRWXG | stat.S_IRWXO):
            problem = f"{path} can be read by others than its owner"
            raise ConfigError([ConfigProblem("site.toml", "mqtt.password_file", problem, f"chmod 600 {path}")])
        return path.read_text(encoding="utf-8").strip()
    except OSError as error:
        problem = f"a file that can be read ({error.strerror})"
        raise ConfigError([ConfigProblem("site.toml", "mqtt.password_file", problem, str(path))]) from None
