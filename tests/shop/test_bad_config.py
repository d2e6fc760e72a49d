"""Every mistake in a configuration is told with its file, its key, what was expected and what to write.

Each case in tests/shop/bad/ is the demo shop with one thing changed:

    # what is wrong
    the file
    - the text that is replaced, one line after another
    + the text that stands there instead (none: it is taken out)
    ! a problem, whole, as people read it

The sentences are this project's own; what each must hold is the design's demand (file, key, what was expected, what to write).
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import pytest
from demo_shop import CONFIG, edited, files, problems

from booth.shop.problems import ConfigError
from booth.shop.shop import load_shop, read_files

BAD = Path(__file__).with_name("bad")


class Case(NamedTuple):
    name: str
    file: str
    old: str
    new: str
    problems: list[str]


def cases() -> list[Case]:
    blocks = [block.split("\n") for path in sorted(BAD.glob("*.txt")) for block in path.read_text("utf-8").strip().split("\n\n")]
    return [Case(lines[0][2:], lines[1], _marked(lines, "-"), _marked(lines, "+"), _all(lines, "!")) for lines in blocks]


def _all(lines: list[str], mark: str) -> list[str]:
    return [line[2:] for line in lines[2:] if line[:1] == mark]


def _marked(lines: list[str], mark: str) -> str:
    return "\n".join(_all(lines, mark))


@pytest.mark.parametrize("case", cases(), ids=[case.name for case in cases()])
def test_a_mistake_is_told_whole(case: Case) -> None:
    assert case.problems, "a case without a problem proves nothing"
    assert problems(edited(case.file, case.old, case.new)) == case.problems


def test_the_demo_shop_has_no_problem() -> None:
    assert problems(files()) == []


def test_every_problem_of_every_file_is_told_at_once_in_order() -> None:
    texts = edited("site.toml", "America/Chicago", "Chicago")
    texts = edited("booths/south.toml", 'max_age = "15 s"', 'max_age = "15"', texts)
    texts = edited("booths/south.toml", 'unit = "percent"', 'unit = "Pa"', texts)
    texts = edited("coatings/waterborne-base.toml", 'revision = "7"', 'edition = "7"', texts)
    texts = edited("processes/standard.toml", 'coating = "epoxy-sealer"', 'coating = "sealant"', texts)
    assert [problem.partition("; ")[0] for problem in problems(texts)] == [
        "booths/south.toml: points.air-temperature.max_age: '15' is not a duration with its unit",
        "booths/south.toml: points.humidity.unit: 'Pa' is not a unit of a humidity",
        "coatings/waterborne-base.toml: sheet.edition: this key is not known",
        "coatings/waterborne-base.toml: sheet.revision: this key is required",
        "processes/standard.toml: steps.sealer.coating: 'sealant' is not a coating",
        "site.toml: time_zone: 'Chicago' is not a time zone",
    ]


def test_a_coating_whose_file_is_broken_is_not_called_unknown_as_well() -> None:
    texts = files() | {"coatings/epoxy-sealer.toml": "name = "}
    assert problems(texts) == [
        "coatings/epoxy-sealer.toml: (the whole file): this is not TOML: invalid value (at end of document); "
        'write for example: key = "value", one on each line'
    ]


@pytest.mark.parametrize("table", ["flash", "bake", "cool"])
def test_a_step_needs_the_table_of_its_coating(table: str) -> None:
    head, _, rest = files()["coatings/two-pack-clear.toml"].partition(f"[{table}]")
    tail = rest[rest.index("\n[") :] if "\n[" in rest else ""
    step, key = {"flash": ("clear-flash", "after"), "bake": ("bake", "coating"), "cool": ("cool", "after")}[table]
    assert problems(files() | {"coatings/two-pack-clear.toml": _without_subtables(head + tail, table)}) == [
        f"processes/{process}.toml: steps.{step}.{key}: coating 'two-pack-clear' has no [{table}]; "
        f"write for example: a [{table}] table in coatings/two-pack-clear.toml"
        for process in ("high-roof", "standard")
    ]


def _without_subtables(text: str, table: str) -> str:
    parts = text.split(f"\n[{table}.")
    return parts[0] + "".join(part[part.index("\n[") :] for part in parts[1:] if "\n[" in part)


def test_a_booth_and_a_process_are_the_least() -> None:
    assert problems({"site.toml": files()["site.toml"].replace('barometer = "mix-room/barometer"', "")}) == [
        "booths/: (the whole file): a shop has at least one file here; write for example: booths/north.toml",
        "processes/: (the whole file): a shop has at least one file here; write for example: processes/standard.toml",
    ]


@pytest.mark.parametrize(
    ("name", "problem"),
    [
        ("booths/North 2.toml", "expected a file name of small letters, digits and hyphens; write for example: north.toml"),
        ("booths/clock.toml", "clock is a topic of its own and can't name a booth; write for example: north.toml"),
        (
            "old/a.toml",
            "this file is in no folder that is read; write for example: a file in booths, coatings, processes, replay",
        ),
    ],
)
def test_a_file_is_named_after_what_it_holds(name: str, problem: str) -> None:
    assert problems(files() | {name: files()["booths/mask-room.toml"]}) == [f"{name}: (the whole file): {problem}"]


def test_no_site_file(tmp_path: Path) -> None:
    with pytest.raises(ConfigError) as caught:
        read_files(tmp_path)
    where = tmp_path / "site.toml"
    told = f"{where}: (the whole file): this file was not found; write for example: booth init {tmp_path}"
    assert str(caught.value) == told


def test_a_file_that_is_not_utf_8(tmp_path: Path) -> None:
    for name, text in files().items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / "coatings/epoxy-sealer.toml").write_bytes('name = "Épaisse"'.encode("latin-1"))
    with pytest.raises(ConfigError) as caught:
        read_files(tmp_path)
    assert str(caught.value) == (
        "coatings/epoxy-sealer.toml: (the whole file): this file can't be read as UTF-8: "
        "'utf-8' codec can't decode byte 0xc9 in position 8: invalid continuation byte; "
        "write for example: the file again, saved as UTF-8"
    )


def test_cautions_of_the_site_are_added_and_none_is_taken_away() -> None:
    built_in = load_shop(files()).cautions
    extended = load_shop(files() | {"cautions.txt": "# ours\n\nThe north exit is alarmed.\n"}).cautions
    assert len(built_in) == 5 and extended == (*built_in, "The north exit is alarmed.")


def test_the_hash_covers_every_file_s_name_and_text() -> None:
    ours = load_shop(files()).sha256
    assert ours == load_shop(read_files(CONFIG)).sha256 and len(ours) == 64
    assert ours != load_shop(edited("site.toml", "30 s", "31 s")).sha256
    assert ours != load_shop(files() | {"cautions.txt": ""}).sha256


def test_a_guarded_rule_asks_for_the_uncertainty_of_every_instrument() -> None:
    silent = edited("booths/north.toml", ', expanded_uncertainty = "1 Pa"', "")
    assert problems(silent) == []
    for file, old, new in (
        ("site.toml", 'decision_rule = "simple"', 'decision_rule = "guarded"'),
        ("coatings/epoxy-sealer.toml", 'name = "Epoxy sealer"', 'name = "Epoxy sealer"\ndecision_rule = "guarded"'),
    ):
        assert problems(edited(file, old, new, silent)) == [
            "booths/north.toml: points.booth-pressure.instrument.expanded_uncertainty: this key is required, since a guarded "
            'decision rule judges by it; write for example: expanded_uncertainty = "0.4 K"'
        ]
