"""Which topic is which point, and what that point may say. Plain data: the configuration fills it in."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

from booth.readers.refused import Refused, quoted
from booth.times import SECOND


@dataclass(frozen=True)
class PointSpec:
    """One point. Inside value = sent * `factor` + `offset` for a value sent in `unit`, the configured one.

    `kind` names a kind in `booth.units.KINDS`; `low` and `high`, in the unit used inside, are what the instrument can
    measure at all. `words`: a point that reports words instead of numbers. `mapping`: version of the configuration.
    """

    point: str
    kind: str
    unit: str = ""
    factor: float = 1.0
    offset: float = 0.0
    low: float = float("-inf")
    high: float = float("inf")
    words: tuple[str, ...] | None = None
    mapping: int = 1


@dataclass(frozen=True)
class Shape:
    """Where a JSON payload keeps what we need: RFC 6901 pointers. A payload that is a bare value always fits.

    `time` None: the payload has no time and is stamped at arrival. `unit` None, or nothing there: the payload names no unit,
    it is `fixed_unit`, or else the point's own. `time_format`: rfc3339, unix_s or unix_ms.
    """

    value: str = "/value"
    time: str | None = "/time"
    unit: str | None = "/unit"
    fixed_unit: str | None = None
    time_format: str = "rfc3339"


STANDARD = Shape()


def valid_filter(text: str) -> bool:
    """Whether a text is an MQTT topic filter: + and # fill their level, # only the last one (MQTT 5 section 4.7.1)."""
    *levels, last = text.split("/")
    sound = all(level == "+" or not {"+", "#"} & set(level) for level in levels)
    return bool(text) and "\0" not in text and sound and (last in ("+", "#") or not {"+", "#"} & set(last))


@dataclass(frozen=True)
class TopicMap:
    """A topic filter of a plant that has topics of its own: `plc/+/temp` -> `point`, in which {1} stands for the first level
    that a wildcard took. Several maps may read the same message: each takes one value out of it."""

    filter: str
    point: str
    shape: Shape = STANDARD

    @cached_property
    def _pattern(self) -> re.Pattern[str]:
        """MQTT 5 section 4.7: + is one level, # at the end is all the rest, neither matches a topic that begins with $."""
        levels = [re.escape(level) for level in self.filter.split("/")]
        pattern = "/".join("([^/]*)" if level == r"\+" else level for level in levels)
        if pattern.endswith(r"/\#"):
            pattern = pattern[:-3] + "(?:/(.*))?"
        elif pattern == r"\#":
            pattern = "(.*)"
        return re.compile((r"(?!\$)" if self.filter[:1] in "+#" else "") + pattern, re.DOTALL)

    def point_of(self, topic: str) -> str | None:
        """The point that a topic stands for, None where the filter doesn't match."""
        match = self._pattern.fullmatch(topic)
        if not match:
            return None
        point = self.point
        for number, level in enumerate(match.groups(default=""), start=1):
            point = point.replace(f"{{{number}}}", level)
        return point


@dataclass(frozen=True)
class PointMap:
    """All that decoding needs to know of a shop. `points` by name (`north/air-temperature`), at topic `<prefix>/<name>`."""

    points: Mapping[str, PointSpec]
    booths: frozenset[str]
    topics: tuple[TopicMap, ...] = ()
    prefix: str = "shop"
    future_tolerance_us: int = 5 * SECOND
    check_event: Callable[[dict], str | None] | None = None  # a sentence where an event lacks what its kind needs

    def spec(self, point: str) -> PointSpec:
        """The point of this name. Raises Refused unknown_point with the names that its booth has."""
        spec = self.points.get(point)
        if spec is None:
            near = [name for name in self.points if name.split("/")[0] == point.split("/")[0]]
            raise Refused(
                "unknown_point",
                f"there is no point {quoted(point)}; expected one of {', '.join(sorted(near or self.points))}: correct the name "
                "at the sender, or add the point to the configuration",
            )
        return spec

    @cached_property
    def known_topics(self) -> dict[str, list]:
        """Room for what decoding has found out about topics: all of it follows from what stands here."""
        return {}

    @property
    def tick_topic(self) -> str:
        return f"{self.prefix}/clock/tick"

    def filters(self) -> tuple[str, ...]:
        """What to subscribe to: everything a booth could say, known or not, so that a misspelt point is seen."""
        return (f"{self.prefix}/+/+", *dict.fromkeys(each.filter for each in self.topics))
