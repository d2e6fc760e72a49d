"""What the painter's page says of a booth, held against the limits as the demonstration's data sheets and files state them.

Limits used here, from config/: waterborne base 20-30 °C, 30-75 %, margin 3 K (sheet p. 2), next coat 15 min to 4 h; two-pack
clear: bake 10 to 30 min after the last coat (sheet p. 5); south booth: 0.40 m/s while spraying, hazard below 0.25 m/s.
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from booth.judge.health.entries import interval_body
from booth.judge.health.spans import Interval
from booth.physics.moist_air import dew_point_c
from booth.store import Draft, Store
from booth.times import MINUTE, SECOND
from booth.web.painter.view import view
from booth.web.painter.words import languages, words
from tests.web.booth_scenes import SCENES, START, Play, at


@pytest.fixture(scope="module")
def snap_of(tmp_path_factory: pytest.TempPathFactory):
    """The south booth at the end of a scene; each is played once, and nothing here changes what it gets."""

    @cache
    def take(scene: str) -> dict[str, Any]:
        folder = tmp_path_factory.mktemp(scene)
        with Store.open(folder, writer=True) as store, Store.open(folder) as other:
            play = Play(store)
            SCENES[scene](play)
            return play.eyes(other).follow()["south"]

    return take


def figures(snap: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {one["measure"]: one for one in snap["figures"]}


def test_a_coat_in_limits(snap_of) -> None:
    snap = snap_of("spraying")
    assert (snap["state"], snap["mode"], snap["gun_on"]) == ("live", "spray", True)
    assert (snap["climate"]["word"], snap["ventilation"]["word"]) == ("in", "in")
    shown = figures(snap)
    assert (shown["air_temperature"]["low"], shown["air_temperature"]["high"]) == (20.0, 30.0)
    assert (shown["relative_humidity"]["low"], shown["relative_humidity"]["high"]) == (30.0, 75.0)
    assert shown["dew_point_margin"]["low"] == 3.0
    assert shown["air_velocity"]["low"] == 0.40
    assert {one["trend"] for one in shown.values()} == {"level"}
    assert snap["vans"][0]["now"]["step"] == "base-1"
    assert snap["notices"] == []


def test_the_margin_is_the_coldest_parts(snap_of) -> None:
    """Part 23.0 °C, air 23.4 °C at 48 %, less the 1 K that the sheet allows for the drying film's own cooling, if it does."""
    shown = figures(snap_of("spraying"))["dew_point_margin"]["value"]
    whole = 23.0 - float(dew_point_c(23.4, 48.0))
    from tests.app.plants import demo_shop

    allowance = demo_shop().coatings["waterborne-base"].climate.dew_point_margin.evaporative_allowance
    assert shown == pytest.approx(whole - allowance, abs=0.01)


def test_what_is_next_and_when(snap_of) -> None:
    snap = snap_of("flashing")
    van = snap["vans"][0]
    assert (van["now"]["step"], van["coming"]["step"]) == ("base-flash", "clear-1")
    assert van["coming"]["may"] == at(400) + 15 * MINUTE  # from the end of the coat: no zones were entered
    assert van["coming"]["must"] == at(0) + 240 * MINUTE  # from its start
    assert snap["clearance"]["until"] == at(400) + 6 * MINUTE
    assert not snap["clearance"]["over"]


def test_a_window_about_to_close_and_missed(snap_of) -> None:
    warned = snap_of("closing")
    assert [(one["about"], one["priority"], one["how"]) for one in warned["notices"]] == [("bake_start", "warning", "closing")]
    latest = at(300) + 30 * MINUTE
    coming = warned["vans"][0]["coming"]
    assert (coming["step"], coming["kind"], coming["may"], coming["must"]) == ("bake", "bake", at(300) + 10 * MINUTE, latest)
    assert (coming["sooner_s"], coming["later_s"]) == (15.0, 15.0)  # the button of the last coat
    alarmed = snap_of("missed")
    first = alarmed["notices"][0]
    assert (first["about"], first["priority"], first["how"]) == ("bake_start", "alarm", "closed")
    assert first["late_us"] == alarmed["as_of"] - latest > 0
    assert first["what_to_do"].startswith("Call the supervisor before the bake starts")
    assert first["sound"] and first["may_acknowledge"]


def test_a_climate_alarm_stays_calm_while_the_gun_is_on(snap_of) -> None:
    """Design, section 5: shown at the beacon, acknowledged at trigger-off."""
    during = [one for one in snap_of("damp")["notices"] if one["about"] == "relative_humidity"]
    assert [(one["calm"], one["sound"], one["may_acknowledge"]) for one in during] == [(True, False, False)]
    after = [one for one in snap_of("damp_gun_off")["notices"] if one["about"] == "relative_humidity"]
    assert [(one["calm"], one["sound"], one["may_acknowledge"]) for one in after] == [(False, True, True)]
    assert after[0]["value"] == pytest.approx(84.0) and after[0]["high"] == 75.0
    snap = snap_of("damp")
    assert snap["climate"]["word"] == "out"
    assert "relative_humidity" in {one["measure"] for one in snap["climate"]["reasons"]}


def test_loss_of_airflow_does_not_wait(snap_of) -> None:
    snap = snap_of("no_air")
    first = snap["notices"][0]
    assert (first["how"], first["priority"], first["immediate"], first["calm"]) == ("airflow", "hazard", True, False)
    assert first["sound"] and first["may_acknowledge"]
    assert snap["ventilation"]["word"] == "out" and snap["climate"]["word"] == "in"


def test_silence_is_not_in_limits(snap_of) -> None:
    snap = snap_of("unheard")
    shown = figures(snap)
    assert snap["climate"]["word"] == "unproven"
    for measure in ("relative_humidity", "dew_point_margin"):
        assert shown[measure]["value"] is None and shown[measure]["untrusted"] in ("stale", "silent")
    assert shown["air_temperature"]["word"] == "in"


def test_a_stuck_probe_measures_no_fan(tmp_path: Path) -> None:
    """The coat ended at 400; were the probe believed, the fan would have run since."""
    with Store.open(tmp_path, writer=True) as store, Store.open(tmp_path) as other:
        play = Play(store)
        SCENES["flashing"](play)
        assert play.eyes(other).follow()["south"]["clearance"]["since"] == at(400)
        stuck = Interval("south/air-velocity", "stuck", at(60), None, at(120))
        store.journal.append([Draft("health", interval_body(stuck), at(60), at(519), "logger")])
        found = play.eyes(other).follow()["south"]["clearance"]
    assert (found["since"], found["until"], found["over"]) == (None, None, False)


def test_guns_that_nobody_hears_do_not_end_the_caution(tmp_path: Path) -> None:
    """Both guns' counters fall silent before the coat; the booth says that it sprays until 200, and the fan runs all the time."""
    with Store.open(tmp_path, writer=True) as store, Store.open(tmp_path) as other:
        play = Play(store)
        play.open()
        play.air(0, 60, mode="idle")
        play.air(60, 200, gun_1=None, gun_2=None)
        play.air(200, 300, gun_1=None, gun_2=None, mode="flash")
        found = play.eyes(other).follow()["south"]["clearance"]
    assert (found["sprayed"], found["until"]) == (at(200), at(200) + 6 * MINUTE)


def test_every_van_of_the_load(snap_of) -> None:
    vans = snap_of("two_vans")["vans"]
    assert [(one["vehicle"], one["now"] and one["now"]["step"], one["coming"]["step"]) for one in vans] == [
        ("TV-4117", "base-flash", "clear-1"),
        ("TV-4121", None, "sealer"),
    ]


def test_no_name_of_a_person_is_in_it(snap_of) -> None:
    for scene in ("flashing", "missed", "two_vans"):
        assert "badge-17" not in json.dumps(snap_of(scene))


def test_a_logger_that_stopped_is_told(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True) as store, Store.open(tmp_path) as other:
        play = Play(store)
        SCENES["spraying"](play)
        eyes = play.eyes(other)
        assert eyes.follow()["south"]["state"] == "live"
        play.logger.close()
        snap = eyes.follow()["south"]
        assert (snap["state"], snap["stopped"]) == ("stopped", play.clock.now())


def test_a_clear_trend_has_a_direction(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True) as store, Store.open(tmp_path) as other:
        play = Play(store)
        play.open()
        play.step(0, "step-start", "base-1", mix="B-7")
        play.air(0, 400, gun_1=300, humidity=lambda second: 45 + second / 40, air_temperature=lambda second: 24 - second / 200)
        shown = figures(play.eyes(other).follow()["south"])
    assert (shown["relative_humidity"]["trend"], shown["air_temperature"]["trend"]) == ("rising", "falling")
    assert shown["air_velocity"]["trend"] == "level"


@pytest.mark.parametrize("scene", SCENES)
def test_every_scene_can_be_said_in_every_language(snap_of, scene: str) -> None:
    snap = snap_of(scene)
    zone = ZoneInfo("America/Chicago")
    for language in languages():
        for units in ("SI", "US"):
            shown = view(snap, words(language, units), zone)
            assert shown["climate"]["word"] and len(shown["figures"]) == 4
            assert "None" not in json.dumps(shown, ensure_ascii=False)


def test_the_snapshot_is_plain(snap_of) -> None:
    snap = snap_of("missed")
    assert json.loads(json.dumps(snap, allow_nan=False)) == json.loads(json.dumps(snap))
    assert snap["as_of"] > START and isinstance(snap["as_of"] / SECOND, float)
