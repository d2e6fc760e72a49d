"""The painter's page speaks three languages: the same keys, the same placeholders, and no text beside the catalogue."""

from __future__ import annotations

import re
import string
from pathlib import Path

import pytest

from booth.judge.health.faults import WORDS as FAULTS
from booth.shop.measures import LIMITED, MODES
from booth.shop.requirement import KINDS
from booth.web.painter import booth_page
from booth.web.painter import view as painter
from booth.web.painter.words import NO_BREAK, countdown, languages, texts_of, words

WEB = Path(booth_page.__file__).parent.parent
MADE_UP_OF_PARTS = (
    *("word", "measure", "limit", "trend", "doubt", "mode", "requirement", "notice", "van", "climate", "ventilation"),
)
"""Sections whose keys the page puts together out of what it shows."""

PAGES = [WEB / "templates" / name for name in ("booth.html", "booth_live.html")]


def placeholders(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def test_all_catalogues_have_the_same_keys_and_placeholders() -> None:
    assert languages() == ["en", "es", "fr"]
    english = {key: placeholders(text) for key, text in texts_of("en").items()}
    for language in languages():
        assert {key: placeholders(text) for key, text in texts_of(language).items()} == english, language


def test_no_text_is_left_in_english() -> None:
    """But for words that are spelt alike."""
    alike = {"purge", "ventilation", "pause", "inspection", "induction", "lots", "instrument {what}", "({value}, {limit})"}
    for language in ("es", "fr"):
        for key, text in texts_of(language).items():
            same = text == texts_of("en")[key] and re.search(r"[A-Za-z]{3}", re.sub(r"\{.*?\}", "", text))
            assert not same or text.lower() in alike, (language, key, text)


def test_every_kind_mode_measure_and_fault_has_its_word() -> None:
    texts = texts_of("en")
    wanted = [f"requirement.{one}" for one in KINDS] + [f"mode.{one}" for one in MODES]
    wanted += [f"measure.{one}" for one in LIMITED] + [f"doubt.{one}" for one in FAULTS]
    assert [key for key in wanted if key not in texts] == []


def test_every_key_that_the_page_asks_for_is_there_and_no_other() -> None:
    modules = [WEB / "painter" / f"{name}.py" for name in ("view", "booth_page")]
    sources = [path.read_text(encoding="utf-8") for path in (*PAGES, *modules)]
    asked = {key for source in sources for key in re.findall(r"[\"']([a-z]+\.[a-z_]+)[\"']", source)}
    known = {key for key in asked if key.split(".")[0] in {one.split(".")[0] for one in texts_of("en")}}
    missing = {key for key in known if key not in texts_of("en") and not key.endswith(("html", "css", "js", "_"))}
    assert missing == set()
    built = ("page.theme_", "page.own_name", *(f"{one}." for one in MADE_UP_OF_PARTS))
    unused = {key for key in texts_of("en") if key not in asked and not key.startswith(built)}
    assert unused == set()


@pytest.mark.parametrize("page", PAGES, ids=lambda path: path.name)
def test_no_text_is_written_into_the_page(page: Path) -> None:
    source = page.read_text(encoding="utf-8")
    source = re.sub(r"\{% block main_class %\}.*?\{% endblock %\}", "", source)
    bare = re.sub(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}|<[^>]*>", " ", source, flags=re.DOTALL)
    assert re.findall(r"[^\W\d_]{2,}", bare.replace("&nbsp;", "")) == []


def test_no_text_is_written_into_the_script() -> None:
    source = (WEB / "static/booth.js").read_text(encoding="utf-8")
    code = re.sub(r"^\s*//.*$|\s//\s.*$", "", source, flags=re.M)
    spoken = [one for one in re.findall(r'"([^"]*)"', code) if " " in one.strip()]
    assert [one for one in spoken if not re.search(r"[.#\[=]|use strict|input, select", one)] == []


def test_never_go_safe_or_clear() -> None:
    """Design, section 9."""
    forbidden = re.compile(r"\b(go|safe|clear|purged|seguro|libre|sûr|libre)\b", re.I)
    assert [text for one in languages() for text in texts_of(one).values() if forbidden.search(text)] == []


def test_numbers_as_the_language_writes_them() -> None:
    """21.4 °C is 70.5 °F (exact: 21.4 * 1.8 + 32 = 70.52); 3 K are 5.4 °F; 0.5 m/s are 98 ft/min (ISO 80000: 1 ft = 0.3048 m)."""
    assert words("en").value(21.4, "temperature") == "21.4 °C".replace(" ", NO_BREAK)
    assert words("fr").value(21.4, "temperature") == "21,4 °C".replace(" ", NO_BREAK)
    assert words("en", "US").value(21.4, "temperature") == "70.5 °F".replace(" ", NO_BREAK)
    assert words("en", "US").value(3.0, "temperature_difference") == "5.4 °F".replace(" ", NO_BREAK)
    assert words("es", "US").value(0.5, "velocity") == "98 ft/min".replace(" ", NO_BREAK)
    assert words("en").value(-1.5, "temperature_difference") == "−1.5 K".replace(" ", NO_BREAK)


def test_a_countdown_reads_as_a_clock() -> None:
    assert [countdown(us * 1_000_000) for us in (0, 5, 65, 3600, 3725)] == ["0:00", "0:05", "1:05", "1:00:00", "1:02:05"]
    assert countdown(200_000) == "0:01"


def test_an_act_has_the_same_id_on_every_screen() -> None:
    one, other = (painter.act_value("acknowledge", "a@1", alarm="a") for _ in range(2))
    assert one == other != painter.act_value("acknowledge", "a@2", alarm="a")


@pytest.mark.parametrize(
    ("sooner_s", "later_s", "label"),
    [
        (20.0, 20.0, "may start in"),
        (20.0, 100.0, "may start in (± 2 min)"),
        (300.0, None, "may start in (or much later)"),
        (20.0, None, "may start in (or much later)"),
        (None, None, "may start in"),
    ],
)
def test_how_sure_the_next_step_is(sooner_s: float | None, later_s: float | None, label: str) -> None:
    coming = {"step": "clear-1", "may": 60_000_000, "must": None, "unknown": False, "sooner_s": sooner_s, "later_s": later_s}
    assert painter._coming(coming, 0, words("en"))["may"] == (label, "1:00")
