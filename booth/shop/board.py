"""The board's settings: where it listens, how that is covered, how long people stay signed in, and what its screens are."""

from __future__ import annotations

import ipaddress
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from booth.shop.model import Model
from booth.shop.problems import expected
from booth.shop.quantities import Count, Flag, Length, Name, PositiveDuration
from booth.times import HOUR

LOOPBACK_NAMES = ("127.0.0.1", "localhost", "[::1]")
ANY_ADDRESS = ("0.0.0.0", "::")


def _address(value: str) -> str:
    try:
        return str(ipaddress.ip_address(value))
    except ValueError:
        raise expected(f"{value!r} is not an IP address", '"10.0.4.2"') from None


class Board(Model):
    """`[board]` in site.toml. Without a certificate or a stated reverse proxy it listens on loopback only."""

    host: Name = Field(default="127.0.0.1", examples=['"localhost"'])
    port: Count = Field(default=8484, ge=1, le=65535, examples=["8484"])
    allowed_hosts: tuple[Name, ...] = Field(default=(), examples=['["board.shop.lan"]'])
    cert_file: Name | None = Field(default=None, examples=['"board.pem"'])
    key_file: Name | None = Field(default=None, examples=['"board.key"'])
    behind_proxy: Annotated[Name, AfterValidator(_address)] | None = Field(default=None, examples=['"10.0.4.2"'])
    open_booth_page: Flag = True
    session: PositiveDuration = Field(default=12 * HOUR, examples=['"12 h"'])
    idle: PositiveDuration = Field(default=1 * HOUR, examples=['"1 h"'])
    language: Literal["en", "es", "fr"] = Field(default="en", examples=['"en"'])
    units: Literal["SI", "US"] = Field(default="SI", examples=['"US"'])
    viewing_distance: Length = Field(default=4.0, examples=['"4 m"'])

    @model_validator(mode="after")
    def _covered(self) -> Board:
        if (self.cert_file is None) != (self.key_file is None):
            raise expected("a certificate comes with its key", 'cert_file = "board.pem", key_file = "board.key"')
        wanting = self.wanting()
        if wanting is not None:
            raise expected(*wanting)
        return self

    @property
    def tls(self) -> bool:
        return self.cert_file is not None

    @property
    def https(self) -> bool:
        """Do people's browsers speak TLS, here or with the proxy in front?"""
        return self.tls or self.behind_proxy is not None

    @property
    def hosts(self) -> frozenset[str]:
        """The names that a request may ask for; anything else is somebody's trick with names (DNS rebinding)."""
        own = () if self.host in ANY_ADDRESS else (f"[{self.host}]" if ":" in self.host else self.host,)
        return frozenset(name.lower() for name in (*LOOPBACK_NAMES, *own, *self.allowed_hosts))

    def wanting(self) -> tuple[str, str] | None:
        """(what is wrong, what to write) where the board would be seen by others without cover; None where it may start."""
        if not self._loopback() and not self.https:
            return (
                f"the board would listen on {self.host} without TLS, so that passwords could be read on the way",
                'cert_file = "board.pem", key_file = "board.key", or behind_proxy = the address of the proxy that speaks TLS',
            )
        if self.host in ANY_ADDRESS and not self.allowed_hosts:
            return f"the board would listen on {self.host} under any name", 'allowed_hosts = ["board.shop.lan"]'
        return None

    def _loopback(self) -> bool:
        try:
            return ipaddress.ip_address(self.host).is_loopback
        except ValueError:
            return self.host == "localhost"
