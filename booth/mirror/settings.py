"""What the mirror needs to know of a shop: where the server is, and the tags of every point."""

from __future__ import annotations

import os
import stat
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from booth.shop.problems import ConfigError, ConfigProblem
from booth.shop.room import Point
from booth.shop.shop import Shop
from booth.units import KINDS

TOKEN_VARIABLE = "BOOTH_INFLUX_TOKEN"


@dataclass(frozen=True)
class Settings:
    """`points`: tags `measure` and `unit` by point; a point that the shop no longer has is sent without them."""

    url: str
    organization: str
    bucket: str
    token: str = field(repr=False)
    site: str
    ca_file: str | None = None
    points: Mapping[str, Mapping[str, str]] = field(default_factory=dict)


def settings_of(shop: Shop) -> Settings | None:
    """The shop's mirror, or None if it has none. Raises ConfigError for a token that is missing or that others can read."""
    mirror = shop.site.mirror
    if mirror is None:
        return None
    points = {f"{booth}/{name}": _tags(point) for booth, room in shop.booths.items() for name, point in room.points.items()}
    token = _token(mirror.token_file)
    return Settings(mirror.url, mirror.organization, mirror.bucket, token, shop.site.name, mirror.ca_file, points)


def _tags(point: Point) -> dict[str, str]:
    return {"measure": point.measure, "unit": "" if point.measure == "mode" else KINDS[point.kind].inside}


def _token(file: str | None) -> str:
    if file is None:
        token = os.environ.get(TOKEN_VARIABLE, "").strip()
        if not token:
            raise _problem(f"the token stands in a file of its own or in the variable {TOKEN_VARIABLE}", '"influx-token"')
        return token
    path = Path(file)
    try:
        if path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
            raise _problem(f"{path} can be read by others than its owner", f"chmod 600 {path}")
        token = path.read_text(encoding="utf-8").strip()
    except OSError as error:
        raise _problem(f"a file that can be read ({error.strerror})", str(path)) from None
    if not token:
        raise _problem(f"{path} is empty; it holds the server's token and nothing else", str(path))
    return token


def _problem(expected: str, write: str) -> ConfigError:
    return ConfigError([ConfigProblem("site.toml", "mirror.token_file", expected, write)])
