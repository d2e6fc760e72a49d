"""`booth exposure`: time-weighted average, sum of a mixture, ppm and mg/m³, dilution air, on figures that the site enters."""

from __future__ import annotations

from enum import Enum
from typing import TYPE_CHECKING, Annotated

import typer

from booth.cli.app import CONFIG, ConfigOption, JsonOption, UsageError, read_shop
from booth.cli.working import tell

if TYPE_CHECKING:
    from booth.reports.exposure_sums import Solvent
    from booth.reports.working import Working


class What(str, Enum):  # noqa: UP042 -- typer reads the values
    twa = "twa"
    mixture = "mixture"
    convert = "convert"
    dilution = "dilution"


def register(app: typer.Typer) -> None:
    app.command("exposure")(exposure)


def exposure(
    what: Annotated[What, typer.Argument(help="twa, mixture, convert or dilution.")],
    figures: Annotated[
        list[str] | None,
        typer.Argument(help='twa: "150 ppm for 2 h" …; mixture: "5 ppm of 10 ppm" …; convert: "50 ppm".'),
    ] = None,
    limit: Annotated[str | None, typer.Option(help='twa: the limit to hold it against, "100 ppm"; with --source.')] = None,
    source: Annotated[str | None, typer.Option(help="Where the limits come from, with its date.")] = None,
    shift: Annotated[str, typer.Option(help="twa: the time to account for; the rule divides by 8 h.")] = "8 h",
    molar_mass: Annotated[float | None, typer.Option(help="convert: in g/mol.")] = None,
    temperature: Annotated[str, typer.Option(help="convert: of the air.")] = "25 degC",
    pressure: Annotated[str, typer.Option(help="convert: of the air.")] = "101.325 kPa",
    coating: Annotated[str | None, typer.Option(help="dilution: a coating whose file states its solvents.")] = None,
    vapour: Annotated[str | None, typer.Option(help='dilution: vapour of the liquid, "30.4 ft^3/gallon", if no coating.')] = None,
    lel: Annotated[float | None, typer.Option(help="dilution: lower explosive limit in % by volume.")] = None,
    rate: Annotated[str | None, typer.Option(help='dilution: what the guns spray, "0.3 L/min".')] = None,
    flow: Annotated[str | None, typer.Option(help='dilution: the measured air, "22 m^3/s"; with --source.')] = None,
    config: ConfigOption = CONFIG,
    json_: JsonOption = False,
) -> None:
    """Work out exposure figures, showing the working, the rule and the source. It knows no limit of its own."""
    from booth.reports import exposure_sums as sums
    from booth.units import parse

    given = list(figures or ())
    if what is not What.dilution and not given:
        raise UsageError(f"{what.value} needs figures; see booth exposure --help")
    if what is What.twa:
        made = sums.average(given, _limit(limit, source), sums.hours(shift))
    elif what is What.mixture:
        if source is None:
            raise UsageError('limits have a source; write --source "29 CFR 1910.1000 table Z-1, read 2026-07-01"')
        made = sums.mixture(given, source)
    elif what is What.convert:
        if len(given) != 1 or molar_mass is None:
            raise UsageError('write booth exposure convert "50 ppm" --molar-mass 92.14')
        made = sums.conversion(given[0], molar_mass, parse(temperature, "temperature"), parse(pressure, "pressure"))
    else:
        made = _dilution(coating, vapour, lel, rate, flow, source, config)
    tell(made, json_)


def _limit(text: str | None, source: str | None):
    from booth.reports.exposure_sums import Limit, concentration

    if text is None:
        return None
    if not source:
        raise UsageError('a limit has a source; write --source "29 CFR 1910.1000 table Z-1, read 2026-07-01"')
    return Limit(*concentration(text), source)


def _dilution(coating, vapour, lel, rate, flow, source, config) -> Working:
    from booth.reports.exposure_sums import dilution_air
    from booth.units import parse

    if rate is None:
        raise UsageError('dilution needs what the guns spray; write --rate "0.3 L/min"')
    if flow is not None and not source:
        raise UsageError('a measured flow has a source; write --source "grid of 2026-06-30"')
    solvents = _solvents(coating, vapour, lel, source, config)
    flow_m3_s = None if flow is None else parse(flow, "flow")
    return dilution_air(solvents, parse(rate, "liquid_flow"), flow_m3_s, source or "")


def _solvents(coating, vapour, lel, source, config) -> list[Solvent]:
    from booth.reports.exposure_sums import Solvent
    from booth.units import parse

    if (coating is None) == (vapour is None):
        raise UsageError("write either --coating, or --vapour with --lel")
    if coating is None:
        if lel is None:
            raise UsageError("a vapour comes with its lower explosive limit; write --lel 1.4")
        return [Solvent("the liquid", 1.0, parse(vapour, "vapour_volume"), lel, source or "as entered")]
    shop = read_shop(config)
    if coating not in shop.coatings:
        raise UsageError(f"{coating!r} is not a coating of this shop; write one of {', '.join(sorted(shop.coatings))}")
    content = shop.coatings[coating].content
    if content is None or not content.solvents:
        raise UsageError(f"coatings/{coating}.toml states no solvents; add [[content.solvents]] with their source")
    return [Solvent(one.name, one.share, one.vapour, one.lel, one.source) for one in content.solvents]
