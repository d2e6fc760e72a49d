"""The demo shop as a starting point: its files, and the same files with one thing changed."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from booth.shop.problems import ConfigError
from booth.shop.shop import Shop, load_shop, read_files

CONFIG = Path(__file__).resolve().parents[2] / "config"


def files() -> dict[str, str]:
    return read_files(CONFIG)


def edited(file: str, old: str, new: str, texts: Mapping[str, str] | None = None) -> dict[str, str]:
    """The files with the first `old` in one of them replaced. An edit that changes nothing is a broken test."""
    changed = dict(files() if texts is None else texts)
    assert old in changed[file], f"{file} has no {old!r}"
    changed[file] = changed[file].replace(old, new, 1)
    return changed


def shop(*edit: str) -> Shop:
    return load_shop(edited(*edit) if edit else files())


def problems(texts: Mapping[str, str]) -> list[str]:
    """Every problem as people read it; none where the files are right."""
    try:
        load_shop(texts)
    except ConfigError as error:
        return [str(problem) for problem in error.problems]
    return []
