"""`booth airflow`: positions of a traverse, velocity, flow, balance, purge and decay, on figures that the site measured."""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum
from typing import TYPE_CHECKING, Annotated, Any

import typer

from booth.cli.app import JsonOption, UsageError
from booth.cli.working import tell

if TYPE_CHECKING:
    from booth.reports.airflow_sums import Air
    from booth.reports.working import Working


class What(str, Enum):  # noqa: UP042 -- typer reads the values
    positions = "positions"
    velocity = "velocity"
    flow = "flow"
    balance = "balance"
    purge = "purge"
    decay = "decay"


class Rule(str, Enum):  # noqa: UP042 -- typer reads the values
    log_tchebycheff = "log-tchebycheff"
    log_linear = "log-linear"
    equal_area = "equal-area"
    equal_area_round = "equal-area-round"


class Basis(str, Enum):  # noqa: UP042 -- typer reads the values
    f70 = "70degF"
    c20 = "20degC"
    c0 = "0degC"


def register(app: typer.Typer) -> None:
    app.command("airflow")(airflow)


def airflow(
    what: Annotated[What, typer.Argument(help="positions, velocity, flow, balance, purge or decay.")],
    figures: Annotated[
        list[str] | None,
        typer.Argument(help='velocity: "25 Pa" or "0.5 m/s" by point, - for none; flow: "22 m^3/s"; decay: "90 ppm" "30 ppm".'),
    ] = None,
    rule: Annotated[Rule | None, typer.Option(help="positions: by which rule.")] = None,
    points: Annotated[int | None, typer.Option(help="positions: how many on a side or a diameter.")] = None,
    size: Annotated[str | None, typer.Option(help='positions: the side or diameter, "600 mm".')] = None,
    temperature: Annotated[str | None, typer.Option(help="velocity, flow: of the air; balance: of the exhaust air.")] = None,
    intake_temperature: Annotated[str | None, typer.Option(help="balance: of the make-up air.")] = None,
    humidity: Annotated[float, typer.Option(help="velocity, balance: relative humidity in percent.")] = 50.0,
    pressure: Annotated[str, typer.Option(help="velocity, flow, balance: of the air.")] = "101.325 kPa",
    coefficient: Annotated[float, typer.Option(help="velocity: the probe's; 1 for a standard pitot tube.")] = 1.0,
    area: Annotated[str | None, typer.Option(help='velocity: the grid\'s area, for the flow through it, "24 m^2".')] = None,
    basis: Annotated[Basis | None, typer.Option(help="flow: what is given is a standard flow at this temperature.")] = None,
    intake: Annotated[str | None, typer.Option(help='balance: make-up air, "20 m^3/s".')] = None,
    exhaust: Annotated[str | None, typer.Option(help='balance: exhaust, "22 m^3/s".')] = None,
    volumes: Annotated[float | None, typer.Option(help="purge: volumes of the booth that went through.")] = None,
    flow: Annotated[str | None, typer.Option(help='purge: or the flow, "19 m^3/s", with --volume and --time or --share.')] = None,
    volume: Annotated[str | None, typer.Option(help='purge: the booth\'s volume, "190 m^3".')] = None,
    time: Annotated[str | None, typer.Option(help='purge: for how long; decay: between the readings; "3 min".')] = None,
    share: Annotated[float | None, typer.Option(help="purge: until this share would be left, 0.01.")] = None,
    mixing: Annotated[float | None, typer.Option(help="purge: mixing factor, 1 perfect to 10 poor; a judgement.")] = None,
    json_: JsonOption = False,
) -> None:
    """Work out air that was measured by hand, showing the working, the rule and the source."""
    air = _air(temperature, humidity, pressure)
    given = tuple(figures or ())
    work: dict[What, Callable[[], Working]] = {
        What.positions: lambda: _positions(rule, points, size),
        What.velocity: lambda: _velocity(given, air, coefficient, area),
        What.flow: lambda: _flow(given, air, basis),
        What.balance: lambda: _balance(intake, _air(intake_temperature, humidity, pressure), exhaust, air),
        What.purge: lambda: _purge(volumes, flow, volume, time, share, mixing),
        What.decay: lambda: _decay(given, time),
    }
    tell(work[what](), json_)


def _air(temperature: str | None, humidity: float, pressure: str) -> Air | None:
    from booth.reports.airflow_sums import Air
    from booth.units import parse

    if temperature is None:
        return None
    return Air(parse(temperature, "temperature"), humidity, _above_zero("--pressure", parse(pressure, "pressure")))


def _above_zero(option: str, value: float) -> float:
    if not value > 0:
        raise UsageError(f"{option} must be above zero, not {value:g}")
    return value


def _needed(what: str, text: Any, write: str) -> Any:
    if text is None:
        raise UsageError(f"{what}; write {write}")
    return text


def _positions(rule: Rule | None, points: int | None, size: str | None) -> Working:
    from booth.reports.airflow_sums import positions
    from booth.units import parse

    by = _needed("positions follow a rule", rule, "--rule log-tchebycheff, log-linear, equal-area or equal-area-round")
    number = _needed("positions need a number of points", points, "--points 6")
    return positions(by.value, number, None if size is None else _above_zero("--size", parse(size, "length")))


def _velocity(given: tuple[str, ...], air: Air | None, coefficient: float, area: str | None) -> Working:
    from booth.reports.airflow_sums import velocity
    from booth.units import parse

    if not given:
        raise UsageError(
            'a grid has a reading of each point; write booth airflow velocity "25 Pa" "27 Pa" --temperature "22 degC"'
        )
    square = None if area is None else _above_zero("--area", parse(area, "area"))
    return velocity(list(given), air, _above_zero("--coefficient", coefficient), square)


def _flow(given: tuple[str, ...], air: Air | None, basis: Basis | None) -> Working:
    from booth.reports.airflow_sums import flow
    from booth.units import parse

    if len(given) != 1 or air is None:
        raise UsageError('write booth airflow flow "22 m^3/s" --temperature "60 degC" of the air that flows')
    return flow(parse(given[0], "flow"), air, None if basis is None else basis.value)


def _balance(intake: str | None, intake_air: Air | None, exhaust: str | None, exhaust_air: Air | None) -> Working:
    from booth.reports.airflow_sums import balance
    from booth.units import parse

    write = '--intake "20 m^3/s" --intake-temperature "24 degC" --exhaust "22 m^3/s" --temperature "22 degC"'
    for one in (intake, exhaust, intake_air, exhaust_air):
        _needed("a balance needs both flows and the temperature of each", one, write)
    return balance(parse(intake, "flow"), intake_air, parse(exhaust, "flow"), exhaust_air)


def _purge(
    volumes: float | None, flow: str | None, volume: str | None, time: str | None, share: float | None, mixing: float | None
) -> Working:
    from booth.reports import purge_sums as sums
    from booth.units import parse

    factor = _needed("how well the air mixes is for somebody to judge", mixing, "--mixing 3, or --mixing 1 for perfect mixing")
    if (volumes is None) == (flow is None):
        raise UsageError('write either --volumes 5.2, or --flow "19 m^3/s" with --volume "190 m^3"')
    if volumes is not None:
        return sums.purge(volumes, factor)
    through, room = parse(flow, "flow"), parse(_needed("a flow goes through a booth", volume, '--volume "190 m^3"'), "volume")
    if (time is None) == (share is None):
        raise UsageError('write either --time "3 min", for what would be left then, or --share 0.01, for how long it would take')
    if share is not None:
        return sums.purge_until(through, room, share, factor)
    return sums.purge_of_flow(through, room, parse(time, "duration"), factor)


def _decay(given: tuple[str, ...], time: str | None) -> Working:
    from booth.reports.exposure_sums import concentration
    from booth.reports.purge_sums import decay
    from booth.units import parse

    if len(given) != 2 or time is None:
        raise UsageError('write the first and the last reading: booth airflow decay "90 ppm" "30 ppm" --time "5 min"')
    (first, unit), (last, other) = map(concentration, given)
    if unit != other:
        raise UsageError(f"{unit} and {other} can't be compared; write both in one unit")
    return decay(first, last, unit, parse(time, "duration"))
