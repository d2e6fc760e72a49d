"""pydantic's errors in the words of the shop: where it is, what was expected and what to write there."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from typing import Any

from pydantic import BaseModel, ValidationError

from booth.shop.model import example_of, keys_of, place_of
from booth.shop.problems import ConfigProblem

EXPECTED = {
    "string_type": "text in quotes",
    "string_too_short": "a text that isn't empty",
    "string_too_long": "at most {max_length} characters",
    "bool_type": "true or false",
    "int_type": "a whole number",
    "float_type": "a number",
    "date_type": "a date",
    "tuple_type": "a list",
    "dict_type": "a table",
    "model_type": "a table",
    "too_short": "at least one entry",
    "literal_error": "{expected}",
    "enum": "{expected}",
    "greater_than": "more than {gt:g}",
    "greater_than_equal": "at least {ge:g}",
    "less_than_equal": "at most {le:g}",
}
"""pydantic's kinds of error and what each asks for; any other kind is told in pydantic's own words."""


def problems_of(file: str, error: ValidationError, model: type[BaseModel], raw: object) -> list[ConfigProblem]:
    """pydantic's errors as problems of this file; `raw` is what it was read into."""
    items = error.errors(include_url=False)
    return [_problem(file, item, model, raw) for item in items if not _follows_from_another(item, items)]


def _follows_from_another(item: dict[str, Any], items: list[dict[str, Any]]) -> bool:
    """A list is "too short" for pydantic when its entries are wrong; then only they are worth telling."""
    loc = item["loc"]
    return item["type"] == "too_short" and any(one["loc"][: len(loc)] == loc for one in items if one is not item)


def _problem(file: str, item: dict[str, Any], model: type[BaseModel], raw: object) -> ConfigProblem:
    path = [part for part in item["loc"] if part != "[key]"]
    context = item.get("ctx", {})
    key, write = key_text(path, raw), None
    if item["type"] == "expected":
        message, write = context["message"], context["write"]
        key = ".".join(filter(None, (key, context["at"])))
    elif item["type"] == "extra_forbidden":
        message, write = "this key is not known", _nearest(path, model)
    elif item["type"] == "missing":
        message = "one more entry is required" if isinstance(path[-1], int) else "this key is required"
    else:
        message = f"{said(item)}, found {short(item['input'])}"
    return ConfigProblem(file, key, message, write or _example(path, model))


def said(item: dict[str, Any]) -> str:
    """What an error of pydantic's asks for."""
    if item["type"] in EXPECTED:
        return f"expected {EXPECTED[item['type']].format(**item.get('ctx', {}))}"
    return f"{item['msg'][0].lower()}{item['msg'][1:]}"


def key_text(path: Sequence[str | int], raw: object) -> str:
    """A path for people: `steps.bake.after` by the step's own name, `limits[2].grace` counted from 1 where there is no name."""
    text = ""
    for part in path:
        inside = _item(raw, part)
        name = next((inside[key] for key in ("step", "check") if key in inside), None) if isinstance(inside, dict) else None
        if isinstance(part, int):
            text += f".{name}" if isinstance(name, str) and name else f"[{part + 1}]"
        else:
            text += f".{part}"
        raw = inside
    return text.lstrip(".")


def _item(raw: object, part: str | int) -> object:
    if isinstance(raw, dict):
        return raw.get(part)
    return raw[part] if isinstance(raw, (list, tuple)) and isinstance(part, int) and part < len(raw) else None


def short(value: object) -> str:
    """A value in a sentence: not more of it than it takes to be found again."""
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "…"


def _nearest(path: Sequence[str | int], model: type[BaseModel]) -> str:
    """The key that was probably meant, with an example; else every key that may stand there."""
    owner = place_of(path, model).owner
    keys = keys_of(owner) if owner else {}
    close = difflib.get_close_matches(str(path[-1]), keys, n=1)
    return f"{close[0]} = {example_of(keys[close[0]])}" if close else f"one of {', '.join(keys)}"


def _example(path: Sequence[str | int], model: type[BaseModel]) -> str:
    """What to write for the last key of the path that has a name of its own in the model."""
    names = list(path)
    while names:
        field = place_of(names, model).field
        if field is not None:
            return f"{names[-1]} = {example_of(field)}"
        names.pop()
    return "the keys that docs/configuration.md names"
