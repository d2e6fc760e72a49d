"""What was truly so in every second of a shift, as arrays."""

from __future__ import annotations

import numpy as np

from simulators.plant import Plant
from simulators.scenario import Scenario

SERIES = ("air_temperature", "relative_humidity", "air_velocity", "booth_pressure", "fresh_flow", "dew_point")
MEASURED = ("air-temperature", "humidity", "air-velocity", "booth-pressure", "exhaust-flow")


class WatchedPlant(Plant):
    """A plant whose truth is written down every second. One booth, one van."""

    def __init__(self, seed: int, scenario: Scenario) -> None:
        self._written: list[tuple] = []
        self._skins: dict[str, list[float]] = {zone.name: [] for zone in scenario.visits[0].body.zones}
        self._modes: list[str] = []
        self._pot: list[float] = []
        super().__init__(seed, scenario)

    def _advance(self) -> None:
        super()._advance()
        if self._second <= self.scenario.start:
            return
        ((name, booth),) = self.booths.items()
        true = [self.true[f"{name}/{point}"] for point in MEASURED]
        self._written.append((*true, booth.dew_point_c(self.outside.pressure_pa)))
        self._modes.append(booth.mode)
        (van,) = self.vans
        for zone, skin in van.skins.items():
            self._skins[zone].append(skin.temperature_c)
        self._pot.append(self.true["mix-room/pot-1"])

    def signals(self) -> Signals:
        """Everything up to now."""
        columns = dict(zip(SERIES, np.array(self._written).T, strict=True))
        skins = {zone: np.array(values) for zone, values in self._skins.items()}
        return Signals(self.scenario.start, columns, skins, np.array(self._modes), np.array(self._pot))


class Signals:
    """One value a second. A second is counted from local midnight, as in the scenario; a stretch is [start, end)."""

    def __init__(self, start: int, columns: dict, skins: dict, modes: np.ndarray, pot: np.ndarray) -> None:
        self.start, self.columns, self.skins, self.modes, self.pot = start, columns, skins, modes, pot

    def of(self, name: str, start: int, end: int) -> np.ndarray:
        return self.columns[name][start - self.start : end - self.start]

    def skin(self, zone: str, start: int, end: int) -> np.ndarray:
        return self.skins[zone][start - self.start : end - self.start]

    def mode(self, start: int, end: int) -> np.ndarray:
        return self.modes[start - self.start : end - self.start]

    def pot_c(self, start: int, end: int) -> np.ndarray:
        return self.pot[start - self.start : end - self.start]
