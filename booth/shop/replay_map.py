"""How to read another logger's CSV file: which column is the time, which is which point, in which unit."""

from __future__ import annotations

import codecs
from typing import Annotated

from pydantic import AfterValidator, Field, model_validator

from booth.shop.model import Model
from booth.shop.problems import expected
from booth.shop.quantities import Count, Name, TimeZone

COLUMNS_EXAMPLE = '{ "temp" = { point = "north/air-temperature", unit = "degC" } }'


def _encoding(name: str) -> str:
    try:
        codecs.lookup(name)
    except LookupError:
        raise expected(f"{name!r} is not a text encoding", '"utf-8"') from None
    return name


class TimeColumn(Model):
    column: Name = Field(examples=['"time"'])
    format: Name = Field(default="rfc3339", examples=['"%d.%m.%Y %H:%M:%S"'])
    zone: TimeZone | None = None

    @model_validator(mode="after")
    def _local_times_name_their_zone(self) -> TimeColumn:
        if self.format not in ("rfc3339", "unix_s", "unix_ms") and "%z" not in self.format and self.zone is None:
            raise expected("a time format without an offset needs the zone it is in", 'zone = "America/Chicago"')
        return self


class ValueColumn(Model):
    point: str = Field(pattern=r"^[^/]+/[^/]+$", examples=['"north/air-temperature"'])
    unit: str = Field(default="", examples=['"degC"'])


class LongColumns(Model):
    """One row a reading: which columns name the point, the value and the unit."""

    point: Name = Field(examples=['"point"'])
    value: Name = Field(examples=['"value"'])
    unit: Name | None = Field(default=None, examples=['"unit"'])


class ReplayMap(Model):
    """One CSV layout; the name of its file is what `--map` takes."""

    delimiter: str = Field(default=",", min_length=1, max_length=1, examples=['";"'])
    decimal: str = Field(default=".", pattern="^[.,]$", examples=['","'])
    encoding: Annotated[str, AfterValidator(_encoding)] = Field(default="utf-8", examples=['"utf-8"'])
    skip_rows: Count = Field(default=0, ge=0, examples=["1"])
    time: TimeColumn
    columns: dict[str, ValueColumn] | None = Field(default=None, min_length=1, examples=[COLUMNS_EXAMPLE])
    long: LongColumns | None = None

    @model_validator(mode="after")
    def _wide_or_long(self) -> ReplayMap:
        if (self.columns is None) == (self.long is None):
            raise expected("either columns (one per point) or long (one row a reading)", f"columns = {COLUMNS_EXAMPLE}")
        if self.decimal == self.delimiter:
            raise expected("the decimal mark and the delimiter can't be the same", 'delimiter = ";"')
        return self
