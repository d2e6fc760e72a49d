"""The demo shift: Tern Valley Mobile Clinics, Monday 2026-07-13. All of it is invented: shop, vans, people, lots."""

from __future__ import annotations

from booth.times import parse_time
from simulators.scenario import (
    Body,
    Booth,
    Burst,
    Care,
    Check,
    Coat,
    Fault,
    Film,
    Miss,
    Mix,
    Note,
    Scenario,
    Setting,
    Visit,
    Zone,
    at,
)
from simulators.weather import Climate

SEALER, BASE, CLEAR = "epoxy-sealer", "waterborne-base", "two-pack-clear"
PAINTER_NORTH, PAINTER_SOUTH, PREPARATION, SUPERVISOR = "badge-17", "badge-22", "badge-31", "badge-03"
SHARED_HARDENER = "HD-0455"

HIGH_ROOF = Body(
    name="high roof",
    process="high-roof",
    zones=(
        Zone("roof", "fibreglass", 14.0, 0.010, 0.30),
        Zone("ends", "fibreglass", 8.0, 0.0, 0.15),
        Zone("sides", "steel", 20.0, -0.005, 0.30),
        Zone("lower", "fibreglass", 10.0, -0.015, 0.25),
    ),
    probes={"part-1": "roof", "part-2": "sides", "part-3": "lower"},
)
STANDARD = Body(
    name="standard",
    process="standard",
    zones=(Zone("lower", "fibreglass", 10.0, -0.010, 0.6), Zone("sills", "steel", 4.0, -0.012, 0.4)),
    probes={"part-1": "lower", "part-2": "sills", "part-3": "lower"},
)


def prepared(clocks: str, flow: str = "32 gallon/min") -> tuple[Check, ...]:
    """Five passed checks from "06:00 06:01 06:01 06:02 06:08": water test, wash, sand, mask, surface moisture."""
    names = ("water-test", "wash", "sand", "mask", "moisture")
    values = {"water-test": (("flow", flow),), "moisture": (("moisture", "7 percent"),)}
    return tuple(
        Check(at(clock), name, PREPARATION, values=values.get(name, ()))
        for name, clock in zip(names, clocks.split(), strict=True)
    )


def matt(clock: str, by: str) -> Check:
    return Check(at(clock), "uniformly-matt", by)


def inspected(clock: str) -> Check:
    return Check(at(clock), "inspect", SUPERVISOR)


TV_4101 = Visit(
    vehicle="TV-4101",
    body=HIGH_ROOF,
    booth="north",
    painter=PAINTER_NORTH,
    opened=at("05:56"),
    loaded=at("06:03"),
    checks=(
        *prepared("05:57 05:57:30 05:58 05:58:30 06:06"),
        matt("07:32", PAINTER_NORTH),
        inspected("09:54"),
    ),
    coats=(
        Coat("sealer", SEALER, at("06:13:08"), 22, "M-101"),
        Coat("base-1", BASE, at("06:54:21"), 21, "M-102"),
        Coat("clear-1", CLEAR, at("07:33:47"), 22, "M-103"),
        Coat("clear-2", CLEAR, at("08:05:12"), 22.5, "M-105", forgotten=("step-start", "step-end")),
    ),
    purge=at("08:37"),
    bake=at("08:40"),
    cool=at("09:34"),
    cooled=at("09:51"),
    unloaded=at("09:56"),
    films=(Film("roof", "118 um", "ultrasonic-1"), Film("sides", "112 um", "magnetic-1")),
)

TV_4102 = Visit(
    vehicle="TV-4102",
    body=STANDARD,
    booth="south",
    painter=PAINTER_SOUTH,
    opened=at("05:59"),
    loaded=at("06:05"),
    checks=(*prepared("05:59:30 06:00 06:00:30 06:01 06:08"), matt("07:10", PAINTER_SOUTH), inspected("08:56")),
    coats=(
        Coat("sealer", SEALER, at("06:12:24"), 12, "M-101"),
        Coat("base-1", BASE, at("06:42:10"), 12.5, "M-102"),
        Coat("clear-1", CLEAR, at("07:10:44"), 12, "M-104"),
        Coat("clear-2", CLEAR, at("07:31:37"), 12.5, "M-104", forgotten=("step-end",)),
    ),
    purge=at("07:52"),
    bake=at("07:55"),
    cool=at("08:42"),
    cooled=at("08:55:30"),
    unloaded=at("08:57"),
    films=(Film("lower", "109 um", "ultrasonic-1"), Film("sills", "115 um", "magnetic-1")),
)

TV_4103 = Visit(
    vehicle="TV-4103",
    body=STANDARD,
    booth="south",
    painter=PAINTER_SOUTH,
    opened=at("08:36"),
    loaded=at("08:58"),
    checks=(*prepared("08:37 08:40 08:42 08:44 09:00"), matt("10:02", PAINTER_SOUTH), inspected("12:21")),
    coats=(
        Coat("sealer", SEALER, at("09:03:22"), 12.5, "M-106"),
        Coat("base-1", BASE, at("09:34:30"), 12.5, "M-107"),
        Coat("clear-1", CLEAR, at("10:02:43"), 12, "M-108"),
        Coat("clear-2", CLEAR, at("10:23:31"), 12.5, "M-108"),
    ),
    purge=at("11:17"),
    bake=at("11:20"),
    cool=at("12:06"),
    cooled=at("12:20:30"),
    unloaded=at("12:21:50"),
    films=(Film("lower", "111 um", "ultrasonic-1"), Film("sills", "108 um", "magnetic-1")),
)

TV_4104 = Visit(
    vehicle="TV-4104",
    body=HIGH_ROOF,
    booth="north",
    painter=PAINTER_NORTH,
    opened=at("08:35"),
    loaded=at("10:00"),
    checks=(
        Check(at("08:42"), "water-test", PREPARATION, "failed", (("flow", "32 gallon/min"),)),
        Check(at("09:04"), "water-test", PREPARATION, "repaired"),
        *prepared("09:23 09:31 09:44 09:53 10:03", flow="33 gallon/min"),
        matt("11:33", PAINTER_NORTH),
        inspected("13:53"),
    ),
    coats=(
        Coat("sealer", SEALER, at("10:08:15"), 22, "M-109"),
        Coat("base-1", BASE, at("10:52:10"), 21, "M-107", helper=PAINTER_SOUTH),
        Coat("clear-1", CLEAR, at("11:34:20"), 21.5, "M-110"),
        Coat("clear-2", CLEAR, at("12:05:10"), 21.5, "M-111"),
    ),
    purge=at("12:36"),
    bake=at("12:39"),
    cool=at("13:33"),
    cooled=at("13:51"),
    unloaded=at("13:55"),
    films=(Film("roof", "121 um", "ultrasonic-1"), Film("sides", "116 um", "magnetic-1")),
)

TV_4105 = Visit(
    vehicle="TV-4105",
    body=STANDARD,
    booth="south",
    painter=PAINTER_SOUTH,
    opened=at("11:40"),
    loaded=at("12:23"),
    checks=(*prepared("11:41 11:50 12:00 12:09 12:24:30"), Check(at("13:43:30"), "scuff", PAINTER_SOUTH)),
    coats=(
        Coat("sealer", SEALER, at("12:27:08"), 12, "M-112"),
        Coat("base-1", BASE, at("13:45:40"), 12.5, "M-107"),
    ),
)  # still in the booth, flashing off, when the shift ends

MIXES = (
    Mix(at("05:56:30"), "M-101", SEALER, PAINTER_NORTH, (("resin", "ES-2201"), ("hardener", "EH-0113")), 3.2),
    Mix(at("06:38"), "M-102", BASE, PAINTER_NORTH, (("resin", "WB-3140"),), 4.5),
    Mix(at("07:27"), "M-103", CLEAR, PAINTER_NORTH, (("resin", "CC-1876"), ("hardener", SHARED_HARDENER)), 2.6),
    Mix(at("07:02"), "M-104", CLEAR, PAINTER_SOUTH, (("resin", "CC-1876"), ("hardener", SHARED_HARDENER)), 1.4),
    Mix(at("07:59"), "M-105", CLEAR, PAINTER_NORTH, (("resin", "CC-1876"), ("hardener", SHARED_HARDENER)), 2.4),
    Mix(at("08:41"), "M-106", SEALER, PAINTER_SOUTH, (("resin", "ES-2201"), ("hardener", "EH-0113")), 1.8),
    Mix(at("09:24"), "M-107", BASE, PAINTER_SOUTH, (("resin", "WB-3140"),), 2.2),
    Mix(at("09:50"), "M-108", CLEAR, PAINTER_SOUTH, (("resin", "CC-1876"), ("hardener", SHARED_HARDENER)), 1.3),
    Mix(at("09:49"), "M-109", SEALER, PAINTER_NORTH, (("resin", "ES-2201"), ("hardener", "EH-0113")), 3.0),
    Mix(at("11:26"), "M-110", CLEAR, PAINTER_NORTH, (("resin", "CC-1881"), ("hardener", "HD-0461")), 2.5),
    Mix(at("11:58:30"), "M-111", CLEAR, PAINTER_NORTH, (("resin", "CC-1881"), ("hardener", "HD-0461"))),
    Mix(at("12:06"), "M-112", SEALER, PAINTER_SOUTH, (("resin", "ES-2208"), ("hardener", "EH-0119")), 1.7),
)

SETTINGS = (
    Setting(0, "north", 23.5),
    Setting(0, "south", 23.5),
    Setting(0, "mask-room", 22.5),
    Setting(0, "mix-room", 21.5),
    Setting(at("11:00:40"), "north", 29.0),  # the supervisor answers the front with reheat
    Setting(at("11:03"), "south", 29.0),
    Setting(at("11:05"), "mask-room", 27.5),
)

NOTES = (
    Note(at("11:02:10"), "north", "TV-4104", SUPERVISOR, "Humid front. Reheat turned up in both booths and the mask room."),
    Note(at("13:44:10"), "south", "TV-4105", PAINTER_SOUTH, "Break ran over. Sealer scuffed and wiped before the base coat."),
)

MAINTENANCE = "badge-44"


def cared_for(booth: str, exhaust_changed: int) -> tuple[Care, ...]:
    """What was done for a booth before this shift, so many days ago. The exhaust filters are a matter of their own."""
    tested = (("result", "passed"), ("report", "file 26-07 (invented)"))
    return (
        Care(exhaust_changed, booth, "filter-changed", MAINTENANCE, (("filter", "exhaust"),)),
        Care(61, booth, "filter-changed", MAINTENANCE, (("filter", "intake"), ("drop_before", "74 Pa"), ("drop_after", "31 Pa"))),
        Care(61, booth, "gauge-tested", MAINTENANCE, (("gauge", "filter-drop"), *tested)),
        Care(118, booth, "booth-examined", MAINTENANCE, tested),
        Care(118, booth, "grid", MAINTENANCE, (("mode", "spray"), ("state", "empty"), ("instrument", "vane anemometer 7"),
                                               ("mean", "0.51 m/s"), ("lowest", "0.43 m/s"))),
        Care(7, booth, "interlock-tested", MAINTENANCE, (("interlock", "guns and fan"), *tested)),
        Care(7, booth, "alarm-tested", MAINTENANCE, (("device", "beacon"), *tested)),
    )  # fmt: skip


START, END = at("05:55"), at("14:00")

FAULTS = (
    Fault("north/humidity", "silent", at("07:40"), at("07:46")),
    Fault("mask-room/humidity", "doubled", START, END, 0.01),  # harmless, and to be counted all the same
    Fault("mask-room/air-temperature", "late", START, END, 0.01),
)

MISSES = (
    Miss("TV-4101", "clear-1", "humidity and dew-point margin", "unproven", "the humidity probe was silent for 6 min"),
    Miss(
        "TV-4103",
        "bake",
        "bake start",
        "missed",
        "the bake began 14 min after the latest start: the painter was helping in the other booth",
    ),
    Miss(
        "TV-4104",
        "base-1",
        "dew-point margin and humidity",
        "missed",
        "the humid front came through while the skin was still at 22 degC; the reheat mended it within the coat",
    ),
    Miss(
        "TV-4105",
        "sealer-flash",
        "flash maximum",
        "missed",
        "78 min from the first pass of sealer to the base coat; scuffed before it, so the miss is remedied",
    ),
)

TERN_VALLEY = Scenario(
    name="Tern Valley Mobile Clinics, 2026-07-13 (invented)",
    midnight=parse_time("2026-07-13T00:00:00-05:00"),
    start=START,
    end=END,
    climate=Climate(),
    booths=(Booth("north", dust_load_per_m3=3.0e-6), Booth("south", dust_load_per_m3=0.3e-6)),
    visits=(TV_4101, TV_4102, TV_4103, TV_4104, TV_4105),
    mixes=MIXES,
    settings=SETTINGS,
    calibrated_until="2027-01-31T23:59:59-06:00",
    calibrated_by=SUPERVISOR,
    faults=FAULTS,
    bursts=(Burst("south", "gun-1", at("09:30:10"), 14),),  # dust blown off TV-4103 before its base coat
    notes=NOTES,
    care=(*cared_for("north", exhaust_changed=178), *cared_for("south", exhaust_changed=61)),
    misses=MISSES,
)
