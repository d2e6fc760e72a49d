"""What a problem tells people to write must itself be right: every key's example is TOML that the key takes."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Annotated, Any, get_args

import pytest
from pydantic import BaseModel, TypeAdapter

from booth.shop.coating import Coating
from booth.shop.model import bare, example_of, keys_of, place_of
from booth.shop.point import Instrument, Point
from booth.shop.process import Process, Step
from booth.shop.replay_map import ReplayMap
from booth.shop.room import Booth
from booth.shop.site import Site

FILES = (Site, Booth, Coating, Process, ReplayMap)


def models(kind: Any) -> Iterator[type[BaseModel]]:
    """Every model that an annotation leads to."""
    kind = bare(kind)
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        yield kind
        for field in kind.model_fields.values():
            yield from models(field.annotation)
    else:
        for inner in get_args(kind):
            yield from models(inner) if not isinstance(inner, str) else ()


def keys() -> list[tuple[type[BaseModel], str]]:
    every = dict.fromkeys(model for file in FILES for model in models(file))
    return [(model, key) for model in every for key in keys_of(model)]


@pytest.mark.parametrize(("model", "key"), keys(), ids=lambda value: getattr(value, "__name__", value))
def test_the_example_of_every_key_can_be_written(model: type[BaseModel], key: str) -> None:
    field = keys_of(model)[key]
    value = tomllib.loads(f"x = {example_of(field)}")["x"]
    if model.__name__ == "BoothLimit" and key in ("minimum", "maximum"):  # its unit follows from the measure beside it
        TypeAdapter(model).validate_python({"measure": "air_velocity", "modes": ["spray"], "source": "s", key: value})
    else:
        TypeAdapter(Annotated[(field.annotation, None, *field.metadata)]).validate_python(value)


@pytest.mark.parametrize(
    ("model", "path", "owner", "has_field"),
    [
        (Booth, ("points", "instrument", "instrument", "name"), Instrument, True),
        (Booth, ("points", "instrument", "instrument", "nome"), Instrument, False),
        (Booth, ("points", "unit", "unit"), Point, True),
        (Booth, ("points", "unit"), None, False),
        (Process, ("steps", 3, "step"), Step, True),
        (Process, ("steps", 3), None, False),
        (Process, ("stepz", 3, "step"), None, False),
        (Coating, ("bake", "dwell", "table", 0, 1), None, False),
    ],
)
def test_a_path_leads_to_the_model_that_its_last_key_stands_in(
    model: type[BaseModel], path: tuple, owner: type[BaseModel] | None, has_field: bool
) -> None:
    place = place_of(path, model)
    assert (place.owner, place.field is not None) == (owner, has_field)
