"""A random shift: weather, booth, body, people's delays and faults of instruments, all out of one seed.

For asking how often the logger is wrong (docs/truth.md). Most shifts are good work; some are not, on purpose: a coat too early or
too late, a bake that begins late, stays too cool or is cut short, a cold van, damp air, a loaded filter. Everything is invented,
but for the outside air of a measured shift.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random

from booth.times import parse_time
from simulators.scenario import Booth, Burst, Check, Coat, Fault, Mix, Scenario, Setting, Visit, at
from simulators.station_files import packaged_years
from simulators.tern_valley import BASE, CLEAR, HIGH_ROOF, SEALER, STANDARD
from simulators.weather import Climate

MINUTE = 60
DAY_US = 86_400_000_000
FIRST_DAY = parse_time("2026-01-05T00:00:00-06:00")
BEGIN = at("06:00")
HARMLESS = ("doubled", "late")
SEEN = ("silent", "stuck", "bias", "clock")
"""Faults that an instrument's own readings or another's can show."""
HIDDEN = ("drift",)
"""A fault that no single instrument can show: a drift inside its calibration. Swapped probes are another (`SWAPPED`)."""

SWAPPED = 0.04
"""Share of the shifts on which somebody took two probes for each other."""

SULTRY = 0.1
"""Share of the shifts on a hot and humid day that creeps up on the limits: nothing in the booth cools."""

POINTS = ("air-temperature", "humidity", "air-velocity", "booth-pressure", "part-1", "part-2", "part-3")
BIASES = {"air-temperature": 3.0, "humidity": 12.0, "air-velocity": 0.15, "booth-pressure": 6.0, "part": 8.0}
"""How much too high an instrument shows that is plainly wrong, in its unit."""
DRIFTS = {"air-temperature": 0.05, "humidity": 0.3, "air-velocity": 0.004, "booth-pressure": 0.1, "part": 0.1}
"""How much an instrument drifts in an hour and is still inside its calibration at the end of a shift."""


@dataclass(frozen=True)
class Hands:
    """What the people of this shift do well and badly; lengths in seconds."""

    sealer_flash: int
    base_flash: int
    clear_flash: int
    to_bake: int
    bake: int
    cool: int
    coat_minutes: float


def any_shift(seed: int, faults: bool = True) -> Scenario:
    """The shift of a seed: one van in one booth. Without `faults`, every instrument is healthy (a little off, as all are)."""
    dice = Random(f"any shift {seed}")
    booth, body = dice.choice(("north", "south")), dice.choice((HIGH_ROOF, STANDARD))
    hands, climate = _hands(dice, body is HIGH_ROOF), _climate(dice)
    visit, mixes = _visit(dice, booth, body, hands)
    if Random(f"sultry {seed}").random() < SULTRY:
        climate = _sultry(Random(f"sultry day {seed}"))
    if faults and Random(f"swapped {seed}").random() < SWAPPED:
        visit = replace(visit, said_probes=_swapped(body.probes))
    end = visit.unloaded + 5 * MINUTE
    base = visit.coats[1].start
    return Scenario(
        name=f"random shift {seed} (invented)",
        midnight=FIRST_DAY + dice.randrange(360) * DAY_US,
        start=BEGIN,
        end=end - end % 5,
        climate=climate,
        booths=(Booth(booth, dust_load_per_m3=dice.choice((0.3e-6, 1e-6, 3e-6, 8e-6))),),
        visits=(visit,),
        mixes=mixes,
        settings=_settings(dice, booth, base),
        calibrated_until="2027-12-31T23:59:59-06:00",
        calibrated_by="badge-03",
        faults=_faults(dice, booth, BEGIN, end) if faults else (),
        bursts=(Burst(booth, "gun-1", base - dice.randint(150, 400), dice.randint(5, 40)),) if dice.random() < 0.3 else (),
    )


def measured_shift(seed: int, faults: bool = True) -> Scenario:
    """The shift of a seed under real air: a station and a day of its year are drawn, fine or foul. Raises NoAir.

    It falls on the measured date, so that what season it was can be seen; all else is as in the seed's invented shift.
    """
    dice = Random(f"measured air {seed}")
    day = dice.choice(tuple(dice.choice(packaged_years()).days.values()))
    shift = any_shift(seed, faults).under(day)
    return replace(shift, midnight=parse_time(f"2026-{day.date}T00:00:00-06:00"))


def _hands(dice: Random, large: bool) -> Hands:
    """Good work, and with one chance in five one thing that isn't."""
    good = Hands(
        sealer_flash=round(dice.uniform(24, 40) * MINUTE),
        base_flash=round(dice.uniform(17, 30) * MINUTE),
        clear_flash=round(dice.uniform(9, 15) * MINUTE),
        to_bake=round(dice.uniform(12, 25) * MINUTE),
        bake=round(dice.uniform(48, 60) * MINUTE),
        cool=round(dice.uniform(14, 22) * MINUTE),
        coat_minutes=dice.uniform(20, 24) if large else dice.uniform(11, 14),
    )
    if dice.random() > 0.2:
        return good
    bad = dice.choice(
        (
            {"sealer_flash": round(dice.uniform(8, 22) * MINUTE)},
            {"sealer_flash": round(dice.uniform(45, 75) * MINUTE)},
            {"base_flash": round(dice.uniform(12, 17) * MINUTE)},
            {"clear_flash": round(dice.uniform(6, 9) * MINUTE)},
            {"to_bake": round(dice.uniform(7, 12) * MINUTE)},
            {"to_bake": round(dice.uniform(27, 40) * MINUTE)},
            {"bake": round(dice.uniform(30, 48) * MINUTE)},
            {"cool": round(dice.uniform(7, 14) * MINUTE)},
        )
    )
    return replace(good, **bad)


def _climate(dice: Random) -> Climate:
    """A day of any season; on one in four a humid front comes through while there is paint on the van."""
    coolest = dice.uniform(-5, 20)
    dew_point = coolest - dice.uniform(1, 10)
    front = dice.random() < 0.25
    return Climate(
        coolest_c=coolest,
        warmest_c=coolest + dice.uniform(4, 12),
        dew_point_before_c=dew_point,
        dew_point_after_c=min(dew_point + dice.uniform(4, 10), 24.0) if front else dew_point + dice.uniform(-1, 1),
        front_at=dice.uniform(6.5, 10.0) * 3600,
        front_scale_s=dice.uniform(60, 900),
        pressure_pa=dice.uniform(97_000, 99_500),
    )


def _sultry(dice: Random) -> Climate:
    coolest, dew_point = dice.uniform(19, 24), dice.uniform(11, 15)
    return Climate(
        coolest_c=coolest,
        warmest_c=coolest + dice.uniform(8, 14),
        dew_point_before_c=dew_point,
        dew_point_after_c=dew_point + dice.uniform(5, 9),
        front_at=dice.uniform(7.0, 10.0) * 3600,
        front_scale_s=dice.uniform(1200, 2400),
        pressure_pa=dice.uniform(97_000, 99_500),
    )


def _visit(dice: Random, booth: str, body, hands: Hands) -> tuple[Visit, tuple[Mix, ...]]:
    painter, now = "badge-17", BEGIN + dice.randint(31, 45) * MINUTE
    loaded = BEGIN + 5 * MINUTE
    checks = [Check(BEGIN + 30 * n + 60, name, "badge-31", values=_values(name)) for n, name in enumerate(GATES)]
    length = round(hands.coat_minutes * MINUTE)
    coats, mixes = [], []
    for step, coating, gap in (
        ("sealer", SEALER, hands.sealer_flash),
        ("base-1", BASE, hands.base_flash),
        ("clear-1", CLEAR, hands.clear_flash),
        ("clear-2", CLEAR, 0),
    ):
        mix = f"M-{len(mixes) + 1}"
        before = dice.randint(16, 30) * MINUTE if coating == SEALER else dice.randint(3, 20) * MINUTE
        mixes.append(Mix(max(BEGIN, now - before), mix, coating, painter, _lots(coating)))
        if coating == CLEAR and step == "clear-1":
            checks.append(Check(now - 20, "uniformly-matt", painter))
        minutes = length / MINUTE * dice.uniform(0.95, 1.05)
        coats.append(Coat(step, coating, now, minutes, mix, forgotten=_forgotten(dice)))
        now += round(minutes * MINUTE) + gap
    bake = now + hands.to_bake
    cool, cooled = bake + hands.bake, bake + hands.bake + hands.cool
    checks.append(Check(cooled + 60, "inspect", "badge-03"))
    visit = Visit(
        vehicle="TV-9001", body=body, booth=booth, painter=painter, opened=BEGIN + 10, loaded=loaded,
        checks=tuple(checks), coats=tuple(coats),
        purge=bake - dice.randint(100, 240), bake=bake, cool=cool, cooled=cooled, unloaded=cooled + 120,
    )  # fmt: skip
    return visit, tuple(mixes)


def _swapped(probes: dict[str, str]) -> dict[str, str]:
    """Two probes taken for each other, on different zones of the van."""
    return probes | {"part-1": probes["part-2"], "part-2": probes["part-1"]}


def restarts(seed: int, scenario: Scenario) -> tuple[int, ...]:
    """When the logger is stopped and started again, in seconds after midnight; the broker keeps what is sent meanwhile."""
    dice = Random(f"restarts {seed}")
    return tuple(sorted(dice.randint(scenario.start, scenario.end) for _ in range(dice.choice((0, 0, 0, 0, 1, 2)))))


GATES = ("water-test", "wash", "sand", "mask", "moisture")


def _values(check: str) -> tuple[tuple[str, str], ...]:
    return {"water-test": (("flow", "32 gallon/min"),), "moisture": (("moisture", "7 percent"),)}.get(check, ())


def _lots(coating: str) -> tuple[tuple[str, str], ...]:
    return (("resin", "R-1"),) if coating == BASE else (("resin", "R-1"), ("hardener", "H-1"))


def _forgotten(dice: Random) -> tuple[str, ...]:
    """Buttons that nobody pressed."""
    return tuple(button for button in ("step-start", "step-end") if dice.random() < 0.1)


def _settings(dice: Random, booth: str, base: int) -> tuple[Setting, ...]:
    """A booth at its temperature; one in eight is set too low or too high, one in eight is turned up in the middle of the day."""
    wanted = dice.choice((19.0, 20.5, 31.5)) if dice.random() < 0.125 else dice.uniform(22, 26)
    settings = [
        Setting(0, booth, wanted),
        Setting(0, "mask-room", dice.uniform(18, 24)),
        Setting(0, "mix-room", dice.uniform(19, 24)),
    ]
    if dice.random() < 0.125:
        settings.append(Setting(base, booth, wanted + dice.uniform(2, 6)))
    return tuple(settings)


def _faults(dice: Random, booth: str, start: int, end: int) -> tuple[Fault, ...]:
    """On half of the shifts nothing, else one or two."""
    found = [Fault(f"{booth}/{dice.choice(POINTS)}", kind, start, end, 0.02) for kind in HARMLESS if dice.random() < 0.3]
    for _ in range(dice.choice((0, 0, 0, 1, 1, 2))):
        name, kind = dice.choice(POINTS), dice.choice((*SEEN, *HIDDEN))
        first = dice.randint(start, end - 10 * MINUTE)
        last = min(end, first + round(dice.uniform(0.5, 60) * MINUTE))
        key = name.rsplit("-", 1)[0] if name[-1].isdigit() else name
        amount = {
            "bias": BIASES[key] * dice.choice((-1, 1)),
            "drift": DRIFTS[key] * dice.choice((-1, 1)),
            "clock": dice.choice((-1, 1)) * dice.uniform(10, 600),
        }.get(kind, 0.0)
        found.append(Fault(f"{booth}/{name}", kind, first, last, amount))
    return tuple(found)
