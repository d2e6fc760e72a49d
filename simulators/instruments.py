"""Instruments: what reaches the wire of a true value. Lag, bias, noise, rounding, and faults by schedule."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import exp
from random import Random

from simulators.scenario import Fault


@dataclass(frozen=True)
class Kind:
    """A make of instrument: unit, decimals sent (-1 = tens), lag [s], noise (1 sigma) and largest bias in its unit."""

    unit: str
    decimals: int
    lag_s: float = 0.0
    noise: float = 0.0
    bias: float = 0.0
    lowest: float | None = None


KINDS = {
    "air-temperature": Kind("degC", 1, 12.0, 0.03, 0.1),
    "humidity": Kind("percent", 1, 10.0, 0.12, 0.4, lowest=0.0),
    "air-velocity": Kind("m/s", 2, 4.0, 0.006, 0.004, lowest=0.0),
    "booth-pressure": Kind("Pa", 1, 2.0, 0.35, 0.2),
    "exhaust-flow": Kind("m^3/s", 2, 4.0, 0.06, 0.1, lowest=0.0),
    "filter-drop": Kind("Pa", 1, 2.0, 0.8, 0.5, lowest=0.0),
    "part": Kind("degC", 1, 15.0, 0.04, 0.15),
    "gun": Kind("L/min", 1, 1.0, 1.2, 0.4, lowest=0.0),
    "pot": Kind("degC", 1, 20.0, 0.03, 0.1),
    "barometer": Kind("Pa", -1, 5.0, 6.0, 20.0),
    "mode": Kind("", 0),
}
TICK_S = 5


def kind_of(point: str) -> Kind:
    """The kind of "north/part-2" is "part": the name without its number."""
    name = point.split("/")[1]
    return KINDS[name.rsplit("-", 1)[0] if name[-1].isdigit() else name]


@dataclass
class Instrument:
    """One point. `follow` it every second; `send` at a tick gives (second stamped, value, ticks of delay) triples."""

    point: str
    kind: Kind
    rng: Random
    faults: tuple[Fault, ...]
    bias: float = 0.0
    shown: float | str | None = None
    frozen: dict[Fault, float | str] = field(default_factory=dict)
    _fade: float = 0.0

    @classmethod
    def seeded(cls, point: str, seed: int, faults: tuple[Fault, ...]) -> Instrument:
        kind = kind_of(point)
        rng = Random(f"{seed}/instrument/{point}")
        mine = tuple(fault for fault in faults if fault.point == point)
        fade = exp(-1.0 / kind.lag_s) if kind.lag_s else 0.0
        return cls(point, kind, rng, mine, rng.uniform(-kind.bias, kind.bias), _fade=fade)

    def follow(self, true: float | str) -> None:
        """One second in which the true value was `true`."""
        if self.shown is None or isinstance(true, str):
            self.shown = true
        else:
            self.shown = true + (self.shown - true) * self._fade

    def send(self, second: int) -> list[tuple[float, float | str, int]]:
        """What is sent at a tick: nothing, one, or two messages."""
        value, stamped, delay, copies = self._value(), float(second), 0, 1
        for fault in self.faults:
            if not fault.start <= second < fault.end:
                continue
            match fault.kind:
                case "silent":
                    copies = 0
                case "stuck":
                    value = self.frozen.setdefault(fault, value)
                case "bias":
                    value = self._rounded(value + fault.amount)
                case "drift":
                    value = self._rounded(value + fault.amount * (second - fault.start) / 3600)
                case "clock":
                    stamped += fault.amount
                case "doubled":
                    copies += self.rng.random() < fault.amount
                case "late":
                    delay = self.rng.randint(1, 3) if self.rng.random() < fault.amount else 0
                case unknown:
                    raise ValueError(f"{fault.point}: no fault {unknown!r}; see simulators.scenario.Fault for those there are")
        return [(stamped, value, delay)] * copies

    def _value(self) -> float | str:
        if isinstance(self.shown, str):
            return self.shown
        return self._rounded(self.shown + self.bias + self.rng.gauss(0.0, self.kind.noise))

    def _rounded(self, value: float) -> float:
        if self.kind.lowest is not None and value < self.kind.lowest:
            value = self.kind.lowest
        return round(value, self.kind.decimals)
