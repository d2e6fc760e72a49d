"""docs/configuration.md names every key of every file, with its default and an example that can be written."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from pathlib import Path
from typing import Annotated

import pytest
from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic.fields import FieldInfo

from booth.shop import board, coating, content, point, process, replay_map, room, shifts, site, ventilation
from booth.shop.limits import DwellLimit, PotLimit, Rule, TimeLimit, WaitLimit
from booth.shop.model import bare, keys_of
from booth.shop.requirement import KINDS

PAGE = Path(__file__).parents[2] / "docs/configuration.md"

RANGES = {measure: bare(field.annotation) for measure, field in coating.Climate.model_fields.items()}

SECTIONS: dict[str, list[type[BaseModel]]] = {
    "site.toml": [site.Site],
    "[[shifts]]": [shifts.Shift],
    "[judging]": [site.Judging],
    "[alarms]": [site.AlarmTimes],
    "[health]": [site.SiteHealth],
    "[mqtt]": [site.Mqtt, site.Broker],
    "[mqtt.brokers.<name>]": [site.FurtherBroker],
    "[[mqtt.mappings]]": [site.JsonMapping],
    "[store]": [site.Keeping],
    "[board]": [board.Board],
    "[mirror]": [site.Mirror],
    "booths/<booth>.toml": [room.Booth],
    "[[limits]]": [room.BoothLimit, RANGES["air_velocity"], RANGES["booth_pressure"]],  # whose units its examples have
    "[hazard]": [room.Hazard],
    "[inference]": [room.Inference],
    "[heat]": [room.Heat],
    "[clearance]": [room.Clearance],
    "[ventilation]": [ventilation.Ventilation, ventilation.Every],
    "[ventilation.filters.<name>]": [ventilation.Filter],
    "[points.<name>]": [point.Point],
    "[points.<name>.health]": [point.Health],
    "[points.<name>.instrument]": [point.Instrument],
    "coatings/<coating>.toml": [coating.Coating],
    "[sheet]": [coating.Sheet],
    "[climate.<measure>]": [coating.Climate, *RANGES.values()],
    "Time limits": [TimeLimit, PotLimit, DwellLimit, WaitLimit],
    "[flash]": [coating.Flash, coating.Appearance, Rule],
    "[pot_life]": [coating.PotLife],
    "[bake]": [
        coating.Bake,
        coating.BakeStart,
        coating.HeatUp,
        coating.Peak,
        coating.Rate,
        coating.OverBake,
        coating.Interruption,
    ],
    "[cool]": [coating.Cool, coating.Below],
    "[content]": [content.Content],
    "[[content.solvents]]": [content.Solvent],
    "processes/<process>.toml": [process.Process],
    "[[gates]]": [process.Gate],
    "[[steps]]": [process.Step, process.PurgeVolumes, process.Remedy],
    "replay/<name>.toml": [replay_map.ReplayMap],
    "[time]": [replay_map.TimeColumn],
    "[columns]": [replay_map.ValueColumn],
    "[long]": [replay_map.LongColumns],
}
"""Heading -> the models whose keys its section explains."""


@cache
def sections() -> dict[str, str]:
    parts = re.split(r"^#+ (.+)$", PAGE.read_text(encoding="utf-8"), flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def rows(section: str) -> list[list[str]]:
    """Cells of the section's tables of keys."""
    lines = [line for line in sections()[section].splitlines() if line.startswith("| `")]
    return [[cell.strip() for cell in line.strip().strip("|").split("|")] for line in lines]


def keys_in(cell: str) -> list[str]:
    return re.findall(r"`([a-z_]+)`", cell)


def fields(section: str, key: str) -> list[FieldInfo]:
    return [keys_of(model)[key] for model in SECTIONS[section] if key in keys_of(model)]


def taken(field: FieldInfo, written: str) -> object:
    """What a value is inside, once the key has taken it; None where the key doesn't take it."""
    try:
        value = tomllib.loads(f"x = {written}")["x"]
        return TypeAdapter(Annotated[(field.annotation, None, *field.metadata)]).validate_python(value)
    except ValidationError:
        return None


@pytest.mark.parametrize("section", SECTIONS)
def test_every_key_is_named_in_its_section(section: str) -> None:
    named = set(keys_in(sections()[section]))
    missing = {key for model in SECTIONS[section] for key in keys_of(model)} - named
    assert not missing, f"docs/configuration.md, section {section}, does not name {sorted(missing)}"


@pytest.mark.parametrize("section", SECTIONS)
def test_no_key_is_explained_that_there_is_not(section: str) -> None:
    explained = {key for row in rows(section) for key in keys_in(row[0])}
    assert explained <= {key for model in SECTIONS[section] for key in keys_of(model)}


def test_every_model_has_a_section() -> None:
    homes = {model for models in SECTIONS.values() for model in models}
    defined = {
        value
        for module in (site, room, coating, process, replay_map)
        for value in vars(module).values()
        if isinstance(value, type) and issubclass(value, BaseModel) and value.model_fields
    }
    helpers = {"Range", "Bound"}
    assert {model.__name__ for model in defined - homes} <= helpers


@pytest.mark.parametrize("section", SECTIONS)
def test_an_example_can_be_written(section: str) -> None:
    for keys, _, _, example, _ in rows(section):
        for key in keys_in(keys) if example else ():
            written = re.fullmatch(r"`(.+)`", example)[1]
            assert any(taken(field, written) is not None for field in fields(section, key)), (key, written)


@pytest.mark.parametrize("section", SECTIONS)
def test_a_default_is_the_one_in_force(section: str) -> None:
    for keys, _, default, _, _ in rows(section):
        for key in keys_in(keys):
            candidates = fields(section, key)
            assert any(field.is_required() == (default == "required") for field in candidates), key
            written = re.fullmatch(r"`(.+)`", default)
            assert not written or any(field.default == taken(field, written[1]) for field in candidates), key


def test_every_kind_of_requirement_is_named() -> None:
    assert set(KINDS) <= set(keys_in(sections()["processes/<process>.toml"]))
