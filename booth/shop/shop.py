"""The whole configuration, read and cross-checked: the one object that the rest of the house asks for promises."""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import rfc8785
from pydantic import BaseModel, ValidationError

from booth.shop.coating import Coating
from booth.shop.cross_check import cross_check
from booth.shop.explain import problems_of
from booth.shop.problems import ConfigError, ConfigProblem
from booth.shop.process import Process
from booth.shop.replay_map import ReplayMap
from booth.shop.room import Booth
from booth.shop.site import Site

FOLDERS: dict[str, type[BaseModel]] = {"booths": Booth, "coatings": Coating, "processes": Process, "replay": ReplayMap}
REHEARSALS = "rehearsals"  # a folder beside these: tests of the limits, which promise nothing (booth.rehearsal)
CAUTIONS = Path(__file__).with_name("cautions.txt")


@dataclass(frozen=True)
class Shop:
    """Everything that the shop promises. `files` is the text it was read from, so that the journal can keep it."""

    site: Site
    booths: Mapping[str, Booth]
    coatings: Mapping[str, Coating]
    processes: Mapping[str, Process]
    replay: Mapping[str, ReplayMap]
    cautions: tuple[str, ...]  # the built-in ones, then the site's own
    files: Mapping[str, str]

    @property
    def sha256(self) -> str:
        return config_sha256(self.files)

    def decision_rule(self, coating: str | None) -> str:
        own = self.coatings[coating].decision_rule if coating else None
        return own or self.site.judging.decision_rule

    def process_sha256(self, process: str) -> str:
        """Hash of the process file alone, for the record."""
        return hashlib.sha256(self.files[f"processes/{process}.toml"].encode()).hexdigest()


def config_sha256(files: Mapping[str, str]) -> str:
    """SHA-256 over the RFC 8785 bytes of {file name: text}."""
    return hashlib.sha256(rfc8785.dumps(dict(files))).hexdigest()


def read_files(directory: Path) -> dict[str, str]:
    """The configuration's texts by name relative to the folder. Raises ConfigError when there is none."""
    if not (directory / "site.toml").is_file():
        raise ConfigError([ConfigProblem(str(directory / "site.toml"), "", "this file was not found", f"booth init {directory}")])
    files, problems = {}, []
    for path in sorted([directory / "site.toml", directory / "cautions.txt", *directory.glob("*/*.toml")]):
        if path.is_file() and path.parent.name != REHEARSALS:
            name = path.relative_to(directory).as_posix()
            try:
                files[name] = path.read_text(encoding="utf-8-sig")  # some editors put a mark in front
            except (OSError, UnicodeDecodeError) as error:
                problems.append(
                    ConfigProblem(name, "", f"this file can't be read as UTF-8: {error}", "the file again, saved as UTF-8")
                )
    if problems:
        raise ConfigError(problems)
    return files


def load_shop(files: Mapping[str, str]) -> Shop:
    """The shop out of its files' texts. Raises ConfigError with every problem of every file at once."""
    problems: list[ConfigProblem] = []
    site = None
    found: dict[str, dict[str, BaseModel]] = {folder: {} for folder in FOLDERS}
    for name, text in files.items():
        folder, _, rest = name.partition("/")
        if name == "site.toml":
            site = _read(name, text, Site, problems)
        elif folder in FOLDERS:
            identifier = _identifier(name, rest.removesuffix(".toml"), problems)
            model = _read(name, text, FOLDERS[folder], problems)
            if model is not None:
                found[folder][identifier] = model
        elif name != "cautions.txt":
            problems.append(ConfigProblem(name, "", "this file is in no folder that is read", f"a file in {', '.join(FOLDERS)}"))
    problems += cross_check(site, *found.values(), files)
    if problems or site is None:
        raise ConfigError(problems)
    cautions = [*_lines(CAUTIONS.read_text(encoding="utf-8")), *_lines(files.get("cautions.txt", ""))]
    return Shop(site, *found.values(), tuple(cautions), dict(files))


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip() and not line.startswith("#")]


def _identifier(file: str, name: str, problems: list[ConfigProblem]) -> str:
    """The name of a file is the id of what it holds, and stands in topics and on the command line."""
    if not re.fullmatch(r"[a-z0-9][a-z0-9-]*", name):
        problems.append(ConfigProblem(file, "", "expected a file name of small letters, digits and hyphens", "north.toml"))
    elif file == "booths/clock.toml":
        problems.append(ConfigProblem(file, "", "clock is a topic of its own and can't name a booth", "north.toml"))
    return name


def _read(name: str, text: str, model: type[BaseModel], problems: list[ConfigProblem]) -> BaseModel | None:
    raw: object = None
    try:
        raw = tomllib.loads(text)
        return model.model_validate(raw)
    except tomllib.TOMLDecodeError as error:
        message = f"this is not TOML: {str(error)[0].lower()}{str(error)[1:]}"
        problems.append(ConfigProblem(name, "", message, 'key = "value", one on each line'))
    except ValidationError as error:
        problems += problems_of(name, error, model, raw)
    return None
