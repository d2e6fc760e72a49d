"""The site: its name, place, time zone, how it judges, alarms and talks to its broker."""

from __future__ import annotations

import re
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from booth.shop.model import Model
from booth.shop.problems import expected
from booth.shop.quantities import Count, Duration, Flag, Length, Name, TimeZone

SECOND = 1_000_000


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


class AlarmTimes(Model):
    """How long a condition must stand or be gone before an alarm follows, and how early a closing window or a trend is told."""

    on_delay: Duration = Field(default=10 * SECOND, examples=['"10 s"'])
    off_delay: Duration = Field(default=20 * SECOND, examples=['"20 s"'])
    warn_before: Duration = Field(default=300 * SECOND, examples=['"5 min"'])
    horizon: Duration = Field(default=600 * SECOND, examples=['"10 min"'])


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


class Mqtt(Model):
    """The broker. A password stands in a file of its own or in BOOTH_MQTT_PASSWORD, never here."""

    host: Name = Field(default="127.0.0.1", examples=['"127.0.0.1"'])
    port: Count = Field(default=1883, ge=1, le=65535, examples=["1883"])
    client_id: Name = Field(default="booth-logger", max_length=64, examples=['"booth-logger"'])
    version: Literal["5", "3.1.1"] = Field(default="5", examples=['"5"'])
    username: Name | None = Field(default=None, examples=['"logger"'])
    password_file: Name | None = Field(default=None, examples=['"mqtt-password"'])
    ca_file: Name | None = Field(default=None, examples=['"ca.pem"'])
    cert_file: Name | None = Field(default=None, examples=['"logger.pem"'])
    key_file: Name | None = Field(default=None, examples=['"logger.key"'])
    mappings: tuple[JsonMapping, ...] = ()

    @model_validator(mode="after")
    def _certificate_with_its_key(self) -> Mqtt:
        if (self.cert_file is None) != (self.key_file is None):
            raise expected("a client certificate comes with its key", 'cert_file = "logger.pem", key_file = "logger.key"')
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


class Site(Model):
    """site.toml"""

    name: Name = Field(examples=['"Tern Valley Mobile Clinics"'])
    invented: Flag = False
    time_zone: TimeZone
    elevation: Length = Field(examples=['"260 m"'])
    barometer: str | None = Field(default=None, examples=['"mix-room/barometer"'])
    judging: Judging = Judging()
    alarms: AlarmTimes = AlarmTimes()
    mqtt: Mqtt = Mqtt()
    mirror: Mirror | None = None

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)
