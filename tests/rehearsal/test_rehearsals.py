"""The rehearsals that we ship are kept to, a planted mistake in a limit is found, and a bad file says what is wrong with it."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from booth.rehearsal.compare import differences
from booth.rehearsal.play import play
from booth.rehearsal.script import read_scripts
from booth.rehearsal.shape import Case, Expected, Happening, Rehearsal
from booth.shop.problems import ConfigError
from booth.shop.shop import load_shop, read_files
from tests.app.plants import CONFIG, demo_shop
from tests.cli.commands import booth

SHIPPED = sorted((CONFIG / "rehearsals").glob("*.toml"))
CASES = [(path, case["name"]) for path in SHIPPED for case in tomllib.loads(path.read_text(encoding="utf-8"))["case"]]

FLASH = """
like = "standard.toml"
[[case]]
name = "the clear flashes off for 10 min"
expect = [{ requirement = "clear-flash/flash_minimum", verdict = "met" }]
"""


def test_each_coating_and_each_process_has_its_rehearsal():
    names = {path.stem for path in SHIPPED}
    assert names >= {*demo_shop().coatings, *demo_shop().processes}


@pytest.mark.parametrize(("path", "name"), CASES, ids=[f"{path.stem}: {name}" for path, name in CASES])
def test_what_we_ship_is_kept_to(path, name):
    script = next(one for one in read_scripts(path, demo_shop()) if one.case.name == name)
    assert differences(play(script, demo_shop())) == []


def beside(tmp_path: Path, text: str) -> Path:
    (tmp_path / "standard.toml").write_text((CONFIG / "rehearsals/standard.toml").read_text(encoding="utf-8"), encoding="utf-8")
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_limit_that_was_changed_by_mistake_is_found(tmp_path):
    files = read_files(CONFIG)
    name = "coatings/two-pack-clear.toml"
    changed = files[name].replace(
        'minimum = { time = "8 min", source = "sheet p. 3" }', 'minimum = { time = "18 min", source = "sheet p. 3" }'
    )
    assert changed != files[name]
    shop = load_shop({**files, name: changed})
    (script,) = read_scripts(beside(tmp_path, FLASH), shop)
    (difference,) = differences(play(script, shop))
    assert difference.about.startswith("clear-flash/flash_minimum")
    assert difference.expected == "met"
    assert difference.got.startswith("missed")


def test_the_readings_around_a_difference_are_told(tmp_path):
    text = FLASH.replace("clear-flash/flash_minimum", "clear-1/relative_humidity").replace(
        "name =", 'points.humidity = "50 percent for 100 min, 80 percent for 3 min, 50 percent"\nname ='
    )
    (script,) = read_scripts(beside(tmp_path, text), demo_shop())
    (difference,) = differences(play(script, demo_shop()))
    (line,) = [line for line in difference.readings if line.startswith("south/humidity")]
    assert line == "south/humidity (percent): 1:39:50 50  1:39:55 50  1:40:00 80  1:40:05 80  1:40:10 80  1:40:15 80"


def test_a_quiet_case_hears_every_alarm(tmp_path):
    text = FLASH.replace(
        "name =", 'quiet = true\npoints.humidity = "50 percent for 100 min, 80 percent for 3 min, 50 percent"\nname ='
    )
    (script,) = read_scripts(beside(tmp_path, text), demo_shop())
    assert {one.about for one in differences(play(script, demo_shop()))} == {"quiet"}


def test_what_the_logger_refuses_is_no_evidence_and_is_told(tmp_path):
    text = FLASH.replace("name =", 'events = [{ at = "1 min", event = "check", check = "wash", result = "splendid" }]\nname =')
    (script,) = read_scripts(beside(tmp_path, text), demo_shop())
    (difference,) = differences(play(script, demo_shop()))
    assert difference.about == "what was sent" and "splendid" in difference.got


BAD = [
    ('proces = "standard"', "proces", "not known"),
    ('process = "standart"\nbooth = "south"', "process", "no process 'standart'"),
    ('process = "standard"\nbooth = "souht"', "booth", "no booth 'souht'"),
    ('like = "standart.toml"', "like", "no rehearsal 'standart.toml'"),
    ('like = "standard.toml"\npoints.humdity = "50 percent"', "points.humdity", "no point 'south/humdity'"),
    ('like = "standard.toml"\npoints.humidity = "50"', "points.humidity", "with its unit"),
    ('like = "standard.toml"\nbegins = 2026-07-13T06:00:00', "begins", "no offset from UTC"),
]


@pytest.mark.parametrize(("head", "key", "said"), BAD)
def test_a_bad_head_names_its_key(tmp_path, head, key, said):
    path = beside(tmp_path, head + "\n" + FLASH.replace('like = "standard.toml"\n', ""))
    with pytest.raises(ConfigError) as caught:
        read_scripts(path, demo_shop())
    assert [one for one in caught.value.problems if one.key == key and said in one.expected], caught.value


BAD_CASES = [
    ('requirement = "clear-flash/flash_minimun", verdict = "met"', "no requirement 'clear-flash/flash_minimun'"),
    ('alarm = "clear-flash/flash_minimun", state = "normal"', "no alarm 'clear-flash/flash_minimun'"),
    ('alarm = "airflw", state = "normal"', "no alarm 'airflw'"),
    ('alarm = "*", state = "normal"', "no alarm '\\*'"),
    ('requirement = "clear-flash/flash_minimum", verdict = "passed"', "expected 'met', 'missed' or 'unproven'"),
    ('requirement = "clear-flash/flash_minimum"', "either a requirement with its verdict"),
    ('requirement = "clear-flash/flash_minimum", verdict = "met", alarm = "airflow", state = "normal"', "either a requirement"),
    ('requirement = "clear-flash/flash_minimum", verdict = "met", at = "2"', "with its unit"),
    ('requirement = "clear-flash/flash_minimum", verdict = "met", when = "2 min"', "not known"),
]


@pytest.mark.parametrize(("expect", "said"), BAD_CASES)
def test_a_bad_question_is_a_mistake_of_the_file(tmp_path, expect, said):
    text = FLASH.replace('requirement = "clear-flash/flash_minimum", verdict = "met"', expect)
    with pytest.raises(ConfigError, match=said):
        read_scripts(beside(tmp_path, text), demo_shop())


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ('points.humidity = "50 percent for 100 min"', "written down for 1 h 40 min only, and this is about 2 h 00 min"),
        ('lasts = "90 min"', "the case lasts 1 h 30 min, and this is about 2 h 00 min"),
    ],
)
def test_a_question_about_a_time_that_the_trace_does_not_reach_is_an_error(tmp_path, change, said):
    text = FLASH.replace("name =", f"{change}\nname =").replace('verdict = "met"', 'verdict = "met", at = "2 h"')
    with pytest.raises(ConfigError, match=said):
        read_scripts(beside(tmp_path, text), demo_shop())


def test_what_is_wrong_with_the_file_that_it_is_like_is_said_of_that_file(tmp_path):
    path = beside(tmp_path, FLASH)
    (tmp_path / "standard.toml").write_text("process =", encoding="utf-8")
    with pytest.raises(ConfigError, match=r"^standard\.toml: .*this is not TOML"):
        read_scripts(path, demo_shop())


@pytest.mark.parametrize("alarm", ["airflow", "job", "stale", "care:grid"])
def test_an_alarm_that_is_not_about_a_requirement_can_be_asked_for(tmp_path, alarm):
    text = FLASH.replace('requirement = "clear-flash/flash_minimum", verdict = "met"', f'alarm = "{alarm}", state = "normal"')
    assert len(read_scripts(beside(tmp_path, text), demo_shop())) == 1
    assert f"`{alarm}`" in (CONFIG.parent / "docs/rehearsals.md").read_text(encoding="utf-8")


def test_an_event_to_leave_out_must_be_there(tmp_path):
    with pytest.raises(ConfigError, match="no event is named 'the wash'"):
        read_scripts(beside(tmp_path, FLASH.replace("name =", 'without = ["the wash"]\nname =')), demo_shop())


def test_exit_codes_for_the_shop_s_own_checks(tmp_path):
    path = beside(tmp_path, FLASH)
    good = booth("rehearse", str(path), "--config", str(CONFIG))
    assert good.code == 0 and "all as expected" in good.out
    path.write_text(FLASH.replace('verdict = "met"', 'verdict = "missed"'), encoding="utf-8")
    wrong = booth("rehearse", str(path), "--config", str(CONFIG), "--json")
    assert wrong.code == 1
    (case,) = json.loads(wrong.out)["cases"]
    assert not case["kept"] and case["differences"][0]["expected"] == "missed"
    path.write_text(FLASH.replace("verdict", "verdikt"), encoding="utf-8")
    bad = booth("rehearse", str(path), "--config", str(CONFIG))
    assert bad.code == 2 and "own.toml: case" in bad.err


@pytest.mark.parametrize("model", [Rehearsal, Case, Expected, Happening])
def test_every_key_is_on_the_page(model):
    page = (CONFIG.parent / "docs/rehearsals.md").read_text(encoding="utf-8")
    assert [key for key in model.model_fields if f"`{key}`" not in page and key not in ("event", "case")] == []
