"""The HTML: one file that fetches nothing, runs nothing, and says everything."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from importlib.resources import files

import hostile
import made_up_record
import pytest

from booth.reports.html import render_html
from booth.reports.traces import Traces
from booth.reports.words import all_findings

VOID = {"meta", "link", "img", "br", "col", "hr", "input"}


class Page(HTMLParser):
    """What a browser would see: tags, attributes, text; complains about tags that don't nest."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.feed(text)
        self.close()
        assert not self.open, f"left open: {self.open}"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        return "".join(self.words)


def test_every_sentence_hash_and_caution_stands_in_it(page: str, record: dict) -> None:
    text = Page(page).text
    wanted = [
        finding[key] for _, _, finding in all_findings(record) for key in ("sentence", "source", "limit_text", "evidence_sha256")
    ]
    for words in (*wanted, *record["summary"], *record["cautions"], record["journal"]["head"], "Invented data", "redacted"):
        assert words in text, words


@pytest.mark.parametrize("made", [made_up_record.record, hostile.record])
def test_it_fetches_nothing_and_runs_nothing(made, traces: Traces) -> None:
    text = render_html(made(), traces)
    seen = Page(text)
    assert not {"script", "link", "iframe", "object", "embed", "img", "form", "base"} & set(seen.tags)
    assert not [
        name for name, _ in seen.attributes if name.startswith("on") or name in ("src", "href", "xlink:href", "srcset", "action")
    ]
    assert "http:" not in text and "https:" not in text and "@import" not in text
    assert all(address.startswith("#") for address in re.findall(r"url\(([^)]*)\)", text))


def test_hostile_text_appears_literally(traces: Traces) -> None:
    text = Page(render_html(hostile.record(), traces)).text
    for wanted in (
        hostile.MARKUP,
        hostile.TYPST,
        hostile.HEBREW,
        hostile.CHINESE,
        hostile.LONG_VAN,
        "abc[U+202E]def[U+0000][U+001B]",
    ):
        assert wanted in text, wanted
    assert "\u202e" not in text and "\x00" not in text


def test_headings_do_not_skip_a_level_and_ids_are_unique(page: str) -> None:
    seen = Page(page)
    levels = [int(tag[1]) for tag in seen.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after <= before + 1 for before, after in zip(levels, levels[1:], strict=False))
    ids = [value for name, value in seen.attributes if name == "id"]
    assert ids and len(ids) == len(set(ids))
    used = set(re.findall(r"url\(#([^)]*)\)", page))
    assert used <= set(ids), "a hatching is used that isn't defined"


def test_each_cell_names_its_column_for_the_phone(page: str) -> None:
    seen = Page(page)
    assert seen.tags.count("td") == sum(1 for name, value in seen.attributes if name == "data-title" and value)


def test_two_rounds_have_their_own_charts_and_headings(record: dict, traces: Traces) -> None:
    second = record["rounds"][0] | {"round": 2, "reason": "runs in the clear", "opened": made_up_record.at("10:20")}
    two = record | {"rounds": [record["rounds"][0] | {"closed": made_up_record.at("10:20")}, second]}
    text = Page(render_html(two, traces)).text
    for wanted in ("Course of the job, round 2", "Findings, round 1", "Opened again because: runs in the clear."):
        assert wanted in text


def test_an_open_job_without_readings_says_so(record: dict) -> None:
    start = made_up_record.us("06:05")
    waiting = record | {
        "job": record["job"] | {"closed": None, "state": "open", "outcome": "open"},
        "verdict": "unproven", "summary": [], "cautions": [], "rounds": [],
        "journal": record["journal"] | {"verified": False}, "concessions": [],
    }  # fmt: skip
    text = Page(render_html(waiting, Traces(start, start + 1))).text
    for wanted in ("still open", "did NOT verify", "No requirement has been judged.", "unproven"):
        assert wanted in text


def luminance(colour: str) -> float:
    """Relative luminance of #rgb or #rrggbb, WCAG 2.2."""
    digits = colour[1:] if len(colour) == 7 else "".join(digit * 2 for digit in colour[1:])
    parts = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_is_double_a_in_light_and_dark() -> None:
    """WCAG 2.2: 4.5 : 1 for text (1.4.3), 3 : 1 for what a chart is made of (1.4.11)."""
    assert contrast("#fff", "#000") == pytest.approx(21)  # the formula's own end
    style = files("booth.reports").joinpath("record.css").read_text()
    schemes = [dict(re.findall(r"--(\w+): (#\w+)", block)) for block in re.findall(r":root \{(.*?)\}", style, re.DOTALL)]
    assert len(schemes) == 2
    for scheme in schemes:
        for name in ("ink", "soft", "met", "missed", "unproven"):
            assert contrast(scheme[name], scheme["paper"]) >= 4.5, (name, scheme["paper"])
        for name in ("bar", "l0", "l1", "l2", "l3", "l4", "l5"):
            assert contrast(scheme[name], scheme["paper"]) >= 3, name
