"""One spray-and-bake booth as a whole: make-up air unit, air, the van in it, the guns that are open."""

from __future__ import annotations

from simulators.booth_air import FLOOR_M2, BoothAir
from simulators.makeup_air import MakeUpAir
from simulators.moist_air import density_kg_m3, dew_point_c, saturation_pa, vapour_pressure_pa
from simulators.part import BEHIND_W_M2_K, FILMS, Skin, conductance_w_m2_k
from simulators.scenario import Booth, Visit
from simulators.spraying import Stroke
from simulators.weather import Outside

GUN_L_MIN = 430.0  # atomising air of an open gun
PRESSURE_PA = {"idle": 1.0, "bake": 9.0, "fault": 0.0}  # against the hall; in all other modes:
PRESSURE_VENTILATED_PA = 5.5
PRESSURE_LAG_SHARE = 0.2  # of the way to its goal in a second: the exhaust damper's control


class Van:
    """A van's painted zones; it stands in the mask room, then in its booth, then it is gone."""

    def __init__(self, visit: Visit, temperature_c: float) -> None:
        self.visit = visit
        self.skins = {
            zone.name: Skin(zone.substrate, zone.area_m2, zone.height_share, temperature_c) for zone in visit.body.zones
        }
        self.area_m2 = sum(skin.area_m2 for skin in self.skins.values())

    def in_booth(self, second: int) -> bool:
        visit = self.visit
        return visit.loaded <= second and (visit.unloaded is None or second < visit.unloaded)

    @property
    def mean_c(self) -> float:
        return sum(skin.area_m2 * skin.temperature_c for skin in self.skins.values()) / self.area_m2

    def spray(self, strokes: list[Stroke]) -> None:
        """One second of open guns."""
        for stroke in strokes:
            if stroke.zone:
                self.skins[stroke.zone].spray(FILMS[stroke.coating], stroke.share)

    def step(self, air_c: float, ratio: float, pressure_pa: float, velocity: float) -> float:
        """One second in such air; returns the water that the film gives to it [kg/s]."""
        vapour, density = vapour_pressure_pa(ratio, pressure_pa), density_kg_m3(air_c, pressure_pa)
        return sum(skin.step(1.0, air_c, vapour, velocity, density) for skin in self.skins.values())


class PaintBooth:
    """A booth's state; `step` moves it by one second."""

    def __init__(self, booth: Booth) -> None:
        self.name = booth.name
        self.unit = MakeUpAir(booth.dust_load_per_m3)
        self.air = BoothAir()
        self.mode = "idle"
        self.pressure_pa = 0.0
        self.open: list[Stroke] = []
        self.van: Van | None = None

    @property
    def velocity(self) -> float:
        """Mean downdraft velocity at the van [m/s]."""
        return self.unit.flow / FLOOR_M2

    def dew_point_c(self, pressure_pa: float) -> float:
        return dew_point_c(vapour_pressure_pa(self.air.humidity_ratio, pressure_pa))

    def step(self, mode: str, van: Van | None, strokes: list[Stroke], setpoint_c: float, outside: Outside, hall_c: float) -> None:
        """One second in `mode`, with that van in the booth and those guns open."""
        self.mode, self.van, self.open = mode, van, strokes
        air, unit = self.air, self.unit
        spraying = sum(1 for stroke in strokes if stroke.zone)
        unit.step(1.0, mode, outside, air.temperature_c, air.humidity_ratio, setpoint_c, spraying)
        evaporation, van_w_k, van_c = 0.0, 0.0, 0.0
        if van:
            van.spray(strokes)
            evaporation = van.step(air.temperature_c, air.humidity_ratio, outside.pressure_pa, self.velocity)
            van_w_k, van_c = (conductance_w_m2_k(self.velocity) + BEHIND_W_M2_K) * van.area_m2, van.mean_c
        air.step(1.0, unit.flow, unit.supply_c, unit.supply_ratio, outside.pressure_pa, hall_c, van_w_k, van_c, evaporation)
        # A loaded intake filter starves the supply, and the booth leans towards underpressure.
        goal = PRESSURE_PA.get(mode, PRESSURE_VENTILATED_PA) - unit.intake_load + outside.gust_pa
        self.pressure_pa += (goal - self.pressure_pa) * PRESSURE_LAG_SHARE

    def values(self, pressure_pa: float) -> dict[str, float | str]:
        """The true value of every point of the booth, by the point's name without the booth."""
        air, unit, van = self.air, self.unit, self.van
        vapour = vapour_pressure_pa(air.humidity_ratio, pressure_pa)
        probed = van.visit.body.probes if van else {}
        parts = {  # a probe that is on no van hangs in the air
            point: van.skins[probed[point]].temperature_c if point in probed else air.temperature_c
            for point in ("part-1", "part-2", "part-3")
        }
        flowing = {stroke.gun for stroke in self.open}
        return {
            "air-temperature": air.temperature_c,
            "humidity": 100.0 * vapour / saturation_pa(air.temperature_c),
            "air-velocity": self.velocity,
            "booth-pressure": self.pressure_pa,
            "exhaust-flow": unit.fresh_flow,
            "filter-drop": unit.filter_drop_pa,
            **parts,
            **{gun: GUN_L_MIN if gun in flowing else 0.0 for gun in ("gun-1", "gun-2")},
            "mode": self.mode,
        }
