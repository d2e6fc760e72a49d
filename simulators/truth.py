"""The hidden truth of a shift: what really happened, for those who check the logger. The logger never sees it."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

from booth.times import SECOND, format_time
from simulators.instruments import TICK_S
from simulators.measured_air import MeasuredDay
from simulators.plant import Plant
from simulators.scenario import Visit

BOOTH_SERIES = ("air_temperature_c", "humidity_percent", "dew_point_c", "velocity_m_s", "fresh_flow_m3_s", "pressure_pa",
                "filter_drop_pa", "surface_coldest_c", "surface_hottest_c", "margin_k")  # fmt: skip


class Truth:
    """`record()` after every tick of the plant, `document()` at the end."""

    def __init__(self, plant: Plant) -> None:
        self.plant = plant
        self.booths: dict[str, dict[str, list]] = {
            name: {key: [] for key in ("mode", "vehicle", *BOOTH_SERIES)} for name in plant.booths
        }
        self.zones: dict[str, dict[str, list[float | None]]] = {
            visit.vehicle: {zone.name: [] for zone in visit.body.zones} for visit in plant.scenario.visits
        }
        self.water = {vehicle: {zone: [] for zone in zones} for vehicle, zones in self.zones.items()}

    def record(self) -> None:
        """Write down what is true after the tick: one more value in every series, None where there is nothing."""
        pressure = self.plant.outside.pressure_pa
        present = set()
        for name, booth in self.plant.booths.items():
            values, dew_point = booth.values(pressure), booth.dew_point_c(pressure)
            skins = [skin.temperature_c for skin in booth.van.skins.values()] if booth.van else []
            coldest, hottest = (min(skins), max(skins)) if skins else (None, None)
            margin = None if coldest is None else coldest - dew_point
            now = (values["air-temperature"], values["humidity"], dew_point, values["air-velocity"], values["exhaust-flow"],
                   values["booth-pressure"], values["filter-drop"], coldest, hottest, margin)  # fmt: skip
            series = self.booths[name]
            series["mode"].append(booth.mode)
            series["vehicle"].append(booth.van.visit.vehicle if booth.van else None)
            for key, value in zip(BOOTH_SERIES, now, strict=True):
                series[key].append(value)
            if booth.van:
                present.add(booth.van.visit.vehicle)
        for van in self.plant.vans:
            vehicle = van.visit.vehicle
            for zone, skin in van.skins.items():
                self.zones[vehicle][zone].append(skin.temperature_c if vehicle in present else None)
                self.water[vehicle][zone].append(skin.water if vehicle in present else None)

    def document(self) -> dict[str, Any]:
        """Everything as one JSON object. Series have one value every `period_s` from `start` on."""
        plant, scenario = self.plant, self.plant.scenario
        measured = " but the outside air" if isinstance(scenario.climate, MeasuredDay) else ""
        return {
            "about": f"Hidden truth of a simulated shift. All of it is invented{measured}.",
            "scenario": scenario.name,
            "seed": plant.seed,
            "start": self._time(scenario.start),
            "end": self._time(scenario.end),
            "period_s": TICK_S,
            "vans": {visit.vehicle: self._van(visit) for visit in scenario.visits},
            "series": {name: _rounded(series) for name, series in self.booths.items()},
            "zone_temperatures_c": {vehicle: _rounded(zones) for vehicle, zones in self.zones.items()},
            "film_water_kg_m2": {vehicle: _rounded(zones, 5) for vehicle, zones in self.water.items()},
            "faults": [self._timed(asdict(fault), "start", "end") for fault in scenario.faults],
            "instrument_bias": {one.point: round(one.bias, 4) for one in plant.instruments},
            "forgotten_buttons": [
                {"vehicle": visit.vehicle, "step": coat.step, "buttons": list(coat.forgotten)}
                for visit in scenario.visits
                for coat in visit.coats
                if coat.forgotten
            ],
            "not_coats": [self._timed(asdict(burst), "start") for burst in scenario.bursts],
            "expected": [asdict(miss) for miss in scenario.misses],
        }

    def _van(self, visit: Visit) -> dict[str, Any]:
        return {
            "body": visit.body.name,
            "booth": visit.booth,
            "zones": {zone.name: zone.substrate for zone in visit.body.zones},
            "loaded": self._time(visit.loaded),
            "unloaded": self._time(visit.unloaded),
            "steps": self._steps(visit),
        }

    def _steps(self, visit: Visit) -> list[dict[str, Any]]:
        """True spans: a coat from first to last trigger, a flash between two coats, the oven steps by the controller."""
        script, steps = self.plant.script, []
        for coat, following in zip(visit.coats, [*visit.coats[1:], None], strict=True):
            end = script.coat_end(visit, coat.step)
            passes: dict[str, dict[str, str]] = {}
            for stroke in script.strokes[visit.vehicle, coat.step]:
                first = passes.get(stroke.zone, {}).get("first", self._time(stroke.start))
                passes[stroke.zone] = {"first": first, "last": self._time(stroke.end)}
            steps.append(self._step(coat.step, "coat", coat.start, end) | {"coating": coat.coating, "zones": passes})
            if following or visit.bake is None:
                flash = coat.step.removesuffix("-1") + "-flash"
                steps.append(self._step(flash, "flash", end, following.start if following else None))
        if visit.bake is not None:
            steps += [self._step("purge", "purge", visit.purge, visit.bake), self._step("bake", "bake", visit.bake, visit.cool),
                      self._step("cool", "cool", visit.cool, visit.cooled)]  # fmt: skip
        return steps

    def _step(self, step: str, kind: str, start: int | None, end: int | None) -> dict[str, Any]:
        return {"step": step, "kind": kind, "start": self._time(start), "end": self._time(end)}

    def _time(self, second: int | None) -> str | None:
        return None if second is None else format_time(self.plant.scenario.midnight + second * SECOND)

    def _timed(self, fields: dict[str, Any], *times: str) -> dict[str, Any]:
        return fields | {key: self._time(fields[key]) for key in times}


def write(truth: Truth, path: Path) -> None:
    """Write the document to `path` as JSON, its folder made where it is missing."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(truth.document(), separators=(",", ":")) + "\n", encoding="utf-8")


def _rounded(series: dict[str, list], decimals: int = 4) -> dict[str, list]:
    return {
        key: [round(value, decimals) if isinstance(value, float) else value for value in values] for key, values in series.items()
    }
