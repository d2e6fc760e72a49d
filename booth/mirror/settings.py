"""What the mirror needs to know of a shop: where the server is, and the tags of every point."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from booth.secret_file import secret, secret_problem
from booth.shop.point import Point
from booth.shop.shop import Shop
from booth.units import KINDS

TOKEN_VARIABLE = "BOOTH_INFLUX_TOKEN"
KEY = "mirror.token_file"


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
    token = secret(file, TOKEN_VARIABLE, KEY)
    if token is None:
        expected = f"the token stands in a file of its own or in the variable {TOKEN_VARIABLE}"
        raise secret_problem(KEY, expected, '"influx-token"')
    return token
