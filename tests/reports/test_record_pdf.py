"""The PDF, read back with pypdf: everything is in it, on both papers, the same bytes each time, and nothing in it was run."""

from __future__ import annotations

import copy
import io
import re

import hostile
import pypdf
import pytest

from booth.reports.pdf import render_pdf
from booth.reports.traces import Traces
from booth.reports.words import all_findings


def read(pdf: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(pdf))


def squeezed(text: str) -> str:
    """Without white space and break marks: where lines break is the typesetter's business."""
    return re.sub(r"[\s\u200b\u00ad]+", "", text)


def text_of(pdf: bytes) -> str:
    return squeezed("".join(page.extract_text() for page in read(pdf).pages))


@pytest.fixture(scope="module")
def pdf(record: dict, traces: Traces) -> bytes:
    return render_pdf(record, traces)


def test_every_finding_stands_in_it_with_its_hash(pdf: bytes, record: dict) -> None:
    text = text_of(pdf)
    for _, _, finding in all_findings(record):
        for wanted in (
            finding["sentence"],
            finding["limit_text"],
            finding["source"],
            finding["observed_text"],
            finding["evidence_sha256"],
        ):
            assert squeezed(wanted) in text, wanted
    for wanted in ("missed", "unproven", "met", "26 requirements judged: 1 missed, 1 unproven, 24 met."):
        assert squeezed(wanted) in text


def test_it_stands_by_itself(pdf: bytes, record: dict) -> None:
    text = text_of(pdf)
    for wanted in (
        *record["cautions"], *record["summary"], *record["process"]["not_stated"], record["journal"]["head"],
        record["process"]["sha256"], "America/Chicago, UTC−05:00", "Invented data", "booth verify", "page 1 of", "H-2207",
        "62 µm (2.4 mil)", "released with concession", "11:31:12 by badge-22", "Adhesion test on the witness panel passed.",
        "The button was pressed after the tea break.", "redacted",
        "Zażółć", "no calibration on record", "Span inferred from readings", "14 min 10 s late", "first issued as unproven",
        "The pot’s temperature was not known when the coat ended.",
    ):  # fmt: skip
        assert squeezed(wanted) in text, wanted


def test_limits_are_given_in_both_unit_systems(pdf: bytes) -> None:
    # 20 °C = 68 °F and a difference of 3 K = 5.4 °F by definition; 0.4 m/s = 78.74 ft/min (1 ft = 0.3048 m, exactly).
    text = text_of(pdf)
    for wanted in (
        "20.0 °C (68.0 °F) to 32.0 °C (89.6 °F)",
        "at least 3.0 K (5.4 °F difference)",
        "at least 0.40 m/s (79 ft/min)",
    ):
        assert squeezed(wanted) in text, wanted


@pytest.mark.parametrize(
    ("paper", "millimetres"), [("a4", (210.0, 297.0)), ("us-letter", (215.9, 279.4))]
)  # ISO 216, ANSI/ASME Y14.1
def test_paper(record: dict, traces: Traces, paper: str, millimetres: tuple[float, float]) -> None:
    pages = read(render_pdf(record, traces, paper)).pages
    assert 5 <= len(pages) <= 12
    for page in pages:
        size = (float(page.mediabox.width), float(page.mediabox.height))
        assert size == pytest.approx([side / 25.4 * 72 for side in millimetres], abs=0.1)


def test_an_unknown_paper_is_refused(record: dict, traces: Traces) -> None:
    with pytest.raises(ValueError, match="'a5' is not a paper of ours; write one of: a4, us-letter"):
        render_pdf(record, traces, "a5")


def test_same_record_same_bytes_and_its_date_is_the_day_of_issue(pdf: bytes, record: dict, traces: Traces) -> None:
    assert render_pdf(copy.deepcopy(record), traces) == pdf
    assert read(pdf).metadata.get("/CreationDate", "").startswith("D:20260713191230")


def test_it_claims_pdf_a_2b_and_carries_its_fonts(pdf: bytes) -> None:
    """ISO 19005-2: the pdfaid marker in the XMP packet, and every font embedded."""
    reader = read(pdf)
    marker = reader.trailer["/Root"]["/Metadata"].get_data().decode()
    assert re.search(r"pdfaid:part[^0-9]{1,3}2", marker) and re.search(r"pdfaid:conformance[^A-Z]{1,3}B", marker)
    fonts = [font.get_object() for page in reader.pages for font in page["/Resources"]["/Font"].values()]
    descriptors = [font["/DescendantFonts"][0]["/FontDescriptor"] for font in fonts]
    assert fonts and all("/FontFile2" in descriptor or "/FontFile3" in descriptor for descriptor in descriptors)


def test_hostile_text_appears_and_nothing_is_run(traces: Traces) -> None:
    text = text_of(render_pdf(hostile.record(), traces))
    for wanted in (hostile.MARKUP, hostile.TYPST, hostile.LONG_VAN, "abc[U+202E]def[U+0000][U+001B]"):
        assert squeezed(wanted) in text, wanted
    assert set(hostile.HEBREW) <= set(text)


def test_letters_without_a_picture_are_numbered_and_the_reader_is_told(traces: Traces) -> None:
    text = text_of(render_pdf(hostile.record(), traces))
    assert "[U+4E2D][U+6587]" in text
    assert squeezed("Letters that this document’s typefaces lack are given as their Unicode numbers") in text


def test_long_words_stay_on_the_paper(traces: Traces) -> None:
    """pypdf's visitor tells where each run of text begins: on the page, and no run is a page wide."""
    page = read(render_pdf(hostile.record(), traces)).pages[0]
    runs: list[tuple[float, str]] = []
    page.extract_text(visitor_text=lambda text, _cm, tm, *_: runs.append((tm[4], text)))
    assert all(0 <= x <= page.mediabox.width for x, text in runs if text.strip())
    assert max(len(squeezed(text)) for _, text in runs) < 130
    assert not any(hostile.LONG_VAN in text for _, text in runs), "the long number was set in one line"
