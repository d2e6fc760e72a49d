"""`booth air`: the moist-air calculator."""

from __future__ import annotations

from typing import Annotated

import typer

from booth.cli.app import JsonOption, UsageError, emit


def register(app: typer.Typer) -> None:
    app.command("air")(air)


def air(
    temperature: Annotated[str, typer.Option(help='Air temperature, for example "22 degC" or "72 degF".')],
    humidity: Annotated[float, typer.Option(help="Relative humidity over water in percent, as probes report it.")],
    surface: Annotated[str | None, typer.Option(help="Surface temperature, for the dew-point margin.")] = None,
    pressure: Annotated[str | None, typer.Option(help='Air pressure, for example "84 kPa".')] = None,
    elevation: Annotated[str | None, typer.Option(help='Elevation, for example "1600 m"; stands in for the pressure.')] = None,
    json_: JsonOption = False,
) -> None:
    """Dew point, margin, humidity ratio, wet bulb and density of moist air."""
    import math

    from booth.physics import moist_air as physics
    from booth.units import parse

    if pressure is not None and elevation is not None:
        raise UsageError("give --pressure or --elevation, not both; the elevation only stands in for a pressure that isn't known")
    air_c = parse(temperature, "temperature")
    surface_c = None if surface is None else parse(surface, "temperature")
    if pressure is not None:
        pressure_pa = parse(pressure, "pressure")
    else:
        pressure_pa = physics.pressure_at_elevation_pa(parse(elevation, "length") if elevation else 0.0)
    dew_point = physics.dew_point_c(air_c, humidity)
    ratio = physics.humidity_ratio(air_c, humidity, pressure_pa)
    result = {
        "dew_point_c": dew_point,
        "frost_point_c": physics.frost_point_c(air_c, humidity),
        "dew_point_margin_k": None if surface_c is None else physics.dew_point_margin_k(surface_c, air_c, humidity),
        "humidity_ratio": ratio,
        "wet_bulb_c": physics.wet_bulb_c(air_c, humidity, pressure_pa),
        "density_kg_m3": physics.density_kg_m3(air_c, ratio, pressure_pa),
        "vapour_pressure_pa": physics.vapour_pressure_pa(air_c, humidity),
        "saturation_pressure_pa": physics.saturation_pressure_pa(air_c),
        "enthalpy_j_kg": physics.enthalpy_j_kg(air_c, ratio),
        "pressure_pa": pressure_pa,
    }
    if any(value is not None and math.isnan(value) for value in result.values()):
        raise UsageError(
            f"{temperature} at {humidity:g} % and {pressure_pa:.0f} Pa is outside what the formulas hold for "
            '(-40 to 150 °C, above 0 to 105 %); write for example --temperature "22 degC" --humidity 60'
        )
    emit(result) if json_ else _print(result)


def _print(result: dict) -> None:
    from booth.units import show_both

    typer.echo(f"dew point          {show_both(result['dew_point_c'], 'temperature')}  (over water)")
    if result["frost_point_c"] is not None:
        typer.echo(f"frost point        {show_both(result['frost_point_c'], 'temperature')}")
    if result["dew_point_margin_k"] is not None:
        typer.echo(f"dew-point margin   {show_both(result['dew_point_margin_k'], 'temperature_difference')}")
    typer.echo(f"wet bulb           {show_both(result['wet_bulb_c'], 'temperature')}")
    typer.echo(
        f"humidity ratio     {1000 * result['humidity_ratio']:.2f} g/kg  ({7000 * result['humidity_ratio']:.1f} grains/lb)"
    )
    typer.echo(f"density            {result['density_kg_m3']:.4f} kg/m³")
    typer.echo(f"enthalpy           {result['enthalpy_j_kg'] / 1000:.2f} kJ/kg dry air")
    typer.echo(
        f"vapour pressure    {result['vapour_pressure_pa']:.1f} Pa of {result['saturation_pressure_pa']:.1f} Pa at saturation"
    )
    typer.echo(f"air pressure       {result['pressure_pa']:.0f} Pa")
