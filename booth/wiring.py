"""The shop's promises in the terms of the ports: which topic is which point, how a file is read, where the broker is."""

from __future__ import annotations

import ssl
from collections.abc import Callable
from dataclasses import replace
from functools import partial

from booth.readers.mqtt import Broker
from booth.readers.points import PointMap, PointSpec, Shape, TopicMap
from booth.readers.table import Column, LongColumns, ReplayMap
from booth.secret_file import secret
from booth.shop import replay_map as configured
from booth.shop import site as configured_site
from booth.shop.admission import objection
from booth.shop.point import Point
from booth.shop.problems import ConfigError, ConfigProblem
from booth.shop.shop import Shop
from booth.shop.site import JsonMapping, Mqtt
from booth.units import affine

PASSWORD_VARIABLE = "BOOTH_MQTT_PASSWORD"


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


def brokers(mqtt: Mqtt, host: str | None = None, port: int | None = None) -> dict[str, Broker]:
    """The configured brokers by name, the first one under ""; or only the one that is named instead.

    Raises ConfigError for a password file that others can read, and for certificates that can't be used.
    """
    first = _broker(mqtt, "mqtt", PASSWORD_VARIABLE)
    if host is not None or port is not None:
        return {"": replace(first, host=host or mqtt.host, port=port or mqtt.port)}
    further = {
        name: _broker(one, f"mqtt.brokers.{name}", f"{PASSWORD_VARIABLE}_{name.upper().replace('-', '_')}")
        for name, one in mqtt.brokers.items()
    }
    return {"": first, **further}


def _broker(one: configured_site.Broker, key: str, variable: str) -> Broker:
    _check_certificates(one, key)
    return Broker(
        one.host,
        one.port,
        version=5 if one.version == "5" else 3,
        username=one.username,
        password=secret(one.password_file, variable, f"{key}.password_file"),
        ca=one.ca_file,
        cert=one.cert_file,
        key=one.key_file,
        configured_as=key,
    )


def _check_certificates(one: configured_site.Broker, key: str) -> None:
    """At the start, where somebody is looking, and not at three in the morning when the broker is back."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    if one.ca_file is not None:
        _try(lambda: context.load_verify_locations(one.ca_file), f"{key}.ca_file", "certificates to trust", one.ca_file)
    if one.cert_file is not None:
        load = partial(context.load_cert_chain, one.cert_file, one.key_file, lambda: "")  # a passphrase nobody could type
        _try(load, f"{key}.cert_file", "a certificate and, in key_file, its key without a passphrase", one.cert_file)


def _try(load: Callable[[], object], key: str, what: str, file: str) -> None:
    try:
        load()
    except OSError as error:  # ssl.SSLError, too
        problem = f"a PEM file with {what} ({error.strerror or error})"
        raise ConfigError([ConfigProblem("site.toml", key, problem, file)]) from None
