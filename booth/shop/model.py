"""The base of every model in the configuration, and the way from a key's path to the model that it stands in."""

from __future__ import annotations

import types
from collections.abc import Sequence
from typing import Annotated, Any, NamedTuple, Union, get_args, get_origin

from pydantic import BaseModel, ConfigDict
from pydantic.fields import FieldInfo


class Model(BaseModel):
    """Frozen, and a key that nobody knows is an error."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    @classmethod
    def example(cls) -> str:
        """An inline table to write, with the keys that can't be left out, or the first one where all can."""
        keys = [(key, field) for key, field in keys_of(cls).items() if field.is_required()] or list(keys_of(cls).items())[:1]
        return f"{{ {', '.join(f'{key} = {example_of(field)}' for key, field in keys)} }}"


def keys_of(model: type[BaseModel]) -> dict[str, FieldInfo]:
    """The fields of a model by the keys that a file writes."""
    return {field.alias or name: field for name, field in model.model_fields.items()}


class Place(NamedTuple):
    """Where a path leads: the model whose key it is (None inside a plain table or list), and the key's field if it has one."""

    owner: type[BaseModel] | None
    field: FieldInfo | None


def place_of(path: Sequence[str | int], model: type[BaseModel]) -> Place:
    """Walks a path such as ("points", "humidity", "instrument", "name") through tables, lists and models."""
    kind: Any = model
    place = Place(None, None)
    for part in path:
        kind = bare(kind)
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            field = keys_of(kind).get(str(part))
            place = Place(kind, field)
            kind = field.annotation if field else None
        else:
            inner = get_args(kind)
            position = part if isinstance(part, int) and part < len(inner) and Ellipsis not in inner else 0
            place = Place(None, None)
            kind = (inner[1] if get_origin(kind) is dict else inner[position]) if inner else None
    return place


def bare(annotation: Any) -> Any:
    """An annotation without Annotated and without None."""
    while True:
        origin = get_origin(annotation)
        if origin is Annotated:
            annotation = get_args(annotation)[0]
        elif origin in (Union, types.UnionType):
            annotation = next(one for one in get_args(annotation) if one is not type(None))
        else:
            return annotation


def example_of(field: FieldInfo) -> str:
    """A value to write for a key, as a file writes it."""
    for examples in (field.examples, *_nested(field.annotation)):
        if examples:
            return str(examples[0])
    return _example_of_type(bare(field.annotation))


def _example_of_type(kind: Any) -> str:
    if isinstance(kind, type) and issubclass(kind, Model):
        return kind.example()
    inner = [bare(one) for one in get_args(kind)]
    if get_origin(kind) is dict:
        return f"{{ name = {_example_of_type(inner[1])} }}"
    if get_origin(kind) is tuple:
        return f"[{_example_of_type(inner[0])}]"
    return {bool: "true", int: "1", float: "1.0"}.get(kind, '"…"')


def _nested(annotation: Any) -> list[list[Any] | None]:
    """Examples that the type of a field carries, as quantities do, inside `| None` too."""
    found = [one.examples for one in getattr(annotation, "__metadata__", ()) if isinstance(one, FieldInfo)]
    for inner in get_args(annotation) if get_origin(annotation) in (Annotated, Union, types.UnionType) else ():
        found += _nested(inner)
    return found
