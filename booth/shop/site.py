"""The site: its name, place, time zone, how it judges, alarms and talks to its broker."""

from __future__ import annotations

import re
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from booth.shop.board import Board
from booth.shop.model import Model
from booth.shop.problems import expected
from booth.shop.quantities import Count, Duration, Flag, Identifier, Length, Name, PositiveDuration, TimeZone
from booth.shop.shifts import Shift, each_begins_once
from booth.times import DAY, HOUR, SECOND

LEAST_KEPT = 30 * DAY


def _pointer(value: str) -> str:
    if not re.fullmatch(r"(/([^~]|~[01])*)?", value):
        raise expected(f"{value!r} is not an RFC 6901 pointer, keys that each begin with a slash", '"/data/0/reading"')
    return value


Pointer = Annotated[str, AfterValidator(_pointer)]


def _topic_filter(value: str) -> str:
    *levels, last = value.split("/")
    if any(level != "+" and {"+", "#"} & set(level) for level in levels) or (last not in "+#" and {"+", "#"} & set(last)):
        raise expected(f"{value!r} is not an MQTT topic filter: + and # stand alone, # only at the end", '"plant/+/climate"')
    return value


class Judging(Model):
    """How findings are made, and how much disorder in time is normal."""

    decision_rule: Literal["simple", "guarded"] = Field(default="simple", examples=['"simple"'])
    allowed_lateness: Duration = Field(default=30 * SECOND, examples=['"30 s"'])
    future_tolerance: Duration = Field(default=15 * SECOND, examples=['"15 s"'])
    entered_within: Duration = Field(default=15 * SECOND, examples=['"15 s"'])


class AlarmTimes(Model):
    """How long a condition must stand or be gone before an alarm follows, and how early a closing window or a trend is told."""

    on_delay: Duration = Field(default=10 * SECOND, examples=['"10 s"'])
    off_delay: Duration = Field(default=20 * SECOND, examples=['"20 s"'])
    warn_before: Duration = Field(default=300 * SECOND, examples=['"5 min"'])
    horizon: Duration = Field(default=600 * SECOND, examples=['"10 min"'])


class SiteHealth(Model):
    """When the clock of an instrument is off: by more than this, steadily for so long."""

    clock_tolerance: PositiveDuration = Field(default=30 * SECOND, examples=['"30 s"'])
    clock_after: PositiveDuration = Field(default=300 * SECOND, examples=['"5 min"'])


class JsonMapping(Model):
    """A foreign topic or JSON shape: where its time, value and unit stand (RFC 6901 pointers).

    `time = "arrival"`: the payload has none and is stamped when it comes.
    """

    topic: Annotated[Name, AfterValidator(_topic_filter)] = Field(examples=['"plant/+/climate"'])
    point: Name = Field(examples=['"{1}/air-temperature"'])
    value: Pointer = Field(default="/value", examples=['"/data/0/reading"'])
    time: Annotated[Pointer | None, BeforeValidator(lambda value: None if value == "arrival" else value)] = Field(
        default="/time", examples=['"/ts"']
    )
    time_format: Literal["rfc3339", "unix_s", "unix_ms"] = Field(default="rfc3339", examples=['"unix_ms"'])
    unit: str | None = Field(default=None, examples=['"degC"'])
    unit_at: Pointer | None = Field(default=None, examples=['"/unit"'])

    @model_validator(mode="after")
    def _one_unit(self) -> JsonMapping:
        if self.unit is not None and self.unit_at is not None:
            raise expected("a unit is either fixed or read out of the payload", 'unit_at = "/unit"')
        return self


class Broker(Model):
    """Where a broker is and how to be let in. A password stands in a file of its own or in the environment, never here."""

    host: Name = Field(default="127.0.0.1", examples=['"127.0.0.1"'])
    port: Count = Field(default=1883, ge=1, le=65535, examples=["1883"])
    version: Literal["5", "3.1.1"] = Field(default="5", examples=['"5"'])
    username: Name | None = Field(default=None, examples=['"logger"'])
    password_file: Name | None = Field(default=None, examples=['"mqtt-password"'])
    ca_file: Name | None = Field(default=None, examples=['"ca.pem"'])
    cert_file: Name | None = Field(default=None, examples=['"logger.pem"'])
    key_file: Name | None = Field(default=None, examples=['"logger.key"'])

    @model_validator(mode="after")
    def _certificate_with_its_key(self) -> Broker:
        if (self.cert_file is None) != (self.key_file is None):
            raise expected("a client certificate comes with its key", 'cert_file = "logger.pem", key_file = "logger.key"')
        return self


class FurtherBroker(Broker):
    """A broker beside the first one: what it brings is read alike, and alarms go out to it, too."""

    host: Name = Field(examples=['"plc.shop.lan"'])
    client_id: Name | None = Field(default=None, max_length=64, examples=['"booth-logger-plc"'])


class Mqtt(Broker):
    """The first broker, those beside it, and what foreign messages mean, from whichever of them."""

    client_id: Name = Field(default="booth-logger", max_length=64, examples=['"booth-logger"'])
    brokers: dict[Identifier, FurtherBroker] = Field(default={}, examples=['{ plc = { host = "plc.shop.lan" } }'])
    mappings: tuple[JsonMapping, ...] = ()

    def client_ids(self) -> dict[str, str]:
        """By the name of the further broker, "" for the first: always the same, and no two alike unless somebody wrote it so."""
        further = {name: one.client_id or f"{self.client_id}-{name}" for name, one in self.brokers.items()}
        return {"": self.client_id, **further}

    @model_validator(mode="after")
    def _no_two_in_one_session(self) -> Mqtt:
        """Two connections with one client id throw each other out, again and again."""
        ids = self.client_ids()
        seen = {(self.host, self.port, ids[""])}
        for name, one in self.brokers.items():
            place = (one.host, one.port, ids[name])
            if place in seen:
                at = f"brokers.{name}.client_id"
                raise expected("two connections to one broker need two client ids", f'"{self.client_id}-{name}"', at)
            seen.add(place)
        return self


def _server(value: str) -> str:
    if not re.fullmatch(r"https?://[^/\s?#]+(/[^\s?#]*)?", value):
        raise expected(f"{value!r} is not the address of a server", '"https://influx.shop.lan:8086"')
    return value.rstrip("/")


class Mirror(Model):
    """The shop's own InfluxDB. The token stands in a file of its own or in BOOTH_INFLUX_TOKEN, never here."""

    url: Annotated[Name, AfterValidator(_server)] = Field(examples=['"https://influx.shop.lan:8086"'])
    organization: Name = Field(examples=['"shop"'])
    bucket: Name = Field(examples=['"booths"'])
    token_file: Name | None = Field(default=None, examples=['"influx-token"'])
    ca_file: Name | None = Field(default=None, examples=['"ca.pem"'])


class Keeping(Model):
    """How long readings stay rows, and whether old ones that no record needs are ever deleted."""

    seal_after: Duration = Field(default=48 * HOUR, ge=HOUR, examples=['"48 h"'])
    keep_readings: Duration | None = Field(default=None, examples=['"3650 day"'])

    @model_validator(mode="after")
    def _not_by_a_slip(self) -> Keeping:
        """A unit mistyped must not cost a year; and what is deleted was sealed before."""
        if self.keep_readings is not None and self.keep_readings < max(LEAST_KEPT, self.seal_after):
            raise expected("readings are kept for 30 days at least, and longer than seal_after", '"3650 day"', "keep_readings")
        return self


class Site(Model):
    """site.toml"""

    name: Name = Field(examples=['"Tern Valley Mobile Clinics"'])
    invented: Flag = False
    time_zone: TimeZone
    elevation: Length = Field(examples=['"260 m"'])
    barometer: str | None = Field(default=None, examples=['"mix-room/barometer"'])
    judging: Judging = Judging()
    alarms: AlarmTimes = AlarmTimes()
    health: SiteHealth = SiteHealth()
    mqtt: Mqtt = Mqtt()
    mirror: Mirror | None = None
    store: Keeping = Keeping()
    board: Board = Board()
    shifts: Annotated[tuple[Shift, ...], AfterValidator(each_begins_once)] = ()

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)
