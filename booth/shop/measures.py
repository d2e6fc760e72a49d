"""What a point can measure, and the kind of quantity that goes with it."""

from __future__ import annotations

MEASURES = {
    "air_temperature": "temperature",
    "relative_humidity": "humidity",
    "part_temperature": "temperature",
    "surface_temperature": "temperature",
    "pot_temperature": "temperature",
    "air_velocity": "velocity",
    "air_flow": "flow",
    "booth_pressure": "pressure",
    "filter_pressure_drop": "pressure",
    "air_pressure": "pressure",
    "gun_flow": "liquid_flow",
    "fan_interlock": "number",
    "mode": "number",
}
"""measure -> kind (booth.units.KINDS). `gun_flow` is the atomising air in L/min; `fan_interlock` is 1 while
the fan is proven and 0 when it has tripped; `mode` is a word out of a list."""

LIMITED = {
    "air_temperature": "temperature",
    "relative_humidity": "humidity",
    "dew_point_margin": "temperature_difference",
    "part_temperature": "temperature",
    "air_velocity": "velocity",
    "booth_pressure": "pressure",
}
"""Measures, direct or derived, that a climate limit can be put on."""

DERIVED_FROM = {measure: (measure,) for measure in LIMITED} | {"dew_point_margin": ("air_temperature", "relative_humidity")}
"""What a booth must measure so that a limit can be judged. (The margin's surface comes from the part probes.)"""

MODES = ("idle", "spray", "flash", "purge", "bake", "cool", "fault")

JUDGED_MODES = ("spray", "flash", "purge", "bake", "cool")
"""Modes in which a van is worked on, so that a limit of the booth is somebody's step."""

MODES_OF_STEP = {
    "coat": ("spray",),
    "flash": ("flash", "spray"),
    "purge": ("purge",),
    "bake": ("bake",),
    "cool": ("cool", "idle"),
}
"""The booth modes in which a step of this kind is at home; spray counts for the flash, since the air is the same and more."""

WORDS = {
    "air_temperature": "air temperature",
    "relative_humidity": "humidity",
    "dew_point_margin": "dew-point margin",
    "part_temperature": "part temperature",
    "air_velocity": "air velocity",
    "booth_pressure": "booth pressure",
}
