"""The documents stay true: each command, option, event, key and kind stands where it is looked for, and links lead somewhere."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer

from booth.cli import app as commands
from booth.shop.event_shapes import EVENTS
from booth.shop.model import Model
from booth.shop.requirement import KINDS

ROOT = Path(__file__).resolve().parent.parent
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]
LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)")


def page(name: str) -> str:
    return (ROOT / "docs" / name).read_text(encoding="utf-8")


def coded(text: str) -> set[str]:
    """Every word inside `backticks`."""
    return {word for code in re.findall(r"`([^`]+)`", text) for word in re.findall(r"[\w.-]+", code)}


def command_line() -> dict:
    """Every command by its name."""
    commands._register()
    return typer.main.get_command(commands.app).commands


def options() -> Iterator[tuple[str, str]]:
    """(command, option) of everything that the command line takes."""
    for name, command in command_line().items():
        for parameter in command.params:
            for option in (*parameter.opts, *parameter.secondary_opts):
                if option.startswith("--"):
                    yield name, option


SHARED = ("--config", "--store", "--json")


def described(text: str, command: str) -> str:
    """The row of a command."""
    return next((line for line in text.splitlines() if re.match(rf"\| `booth {command}[ `]", line)), "")


def test_every_command_and_option_is_documented() -> None:
    text = page("commands.md")
    intro = text[: text.index("| command |")]
    missing = [
        f"booth {command} {option}"
        for command, option in options()
        if option not in (intro if option in SHARED else described(text, command)) and option != "--help"
    ]
    assert not missing


def test_no_command_is_documented_that_is_not_there() -> None:
    assert len(command_line()) >= 12
    assert set(re.findall(r"^\| `booth ([\w-]+)", page("commands.md"), re.MULTILINE)) == set(command_line())


@pytest.mark.parametrize("kind", EVENTS)
def test_every_event_is_documented_with_its_keys(kind: str) -> None:
    row = next((line for line in page("commands.md").splitlines() if line.startswith("| `") and f"`{kind}`" in line), "")
    assert row, f"docs/commands.md has no row for {kind}"
    model: type[Model] = EVENTS[kind]
    keys = {field.alias or name for name, field in model.model_fields.items()}
    assert not {key for key in keys if not re.search(rf"\b{key}\b", row)}


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_requirement_is_described(kind: str) -> None:
    first_cells = [line.split("|")[1] for line in page("requirements.md").splitlines() if line.startswith("| `")]
    assert any(f"`{kind}`" in cell for cell in first_cells), f"docs/requirements.md has no row for {kind}"


FREE = {"values", "lots", "set"}
"""Keys whose own keys are somebody's names, not ours."""


def keys_of(value: object) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inside in value.items():
            yield key
            if key not in FREE or isinstance(inside, list):
                yield from keys_of(inside)
    elif isinstance(value, list):
        for one in value:
            yield from keys_of(one)


def undocumented(record: dict) -> set[str]:
    return set(keys_of(record)) - coded(page("record.md"))


def test_an_undocumented_key_would_be_found() -> None:
    assert undocumented({"rounds": [{"steps": [{"colour_of_the_sky": 1}]}]}) == {"colour_of_the_sky"}


@pytest.mark.parametrize("path", PAGES, ids=lambda path: str(path.relative_to(ROOT)))
def test_links_lead_somewhere(path: Path) -> None:
    targets = [target.split("#")[0] for target in LINK.findall(path.read_text(encoding="utf-8"))]
    relative = [target for target in targets if target and not re.match(r"[a-z]+:", target)]
    assert [target for target in relative if not (path.parent / target).exists()] == []
