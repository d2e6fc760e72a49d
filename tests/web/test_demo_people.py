"""The demonstration's board in a real browser, as each of its people goes about their work."""

from __future__ import annotations

from pathlib import Path

import pytest

from booth.store import Store
from tests.web.demo_board import (  # noqa: F401
    PAGES,
    browsing,
    chromium,
    copied,
    demo_board,
    demo_store,
    opened,
    served,
    violations,
)

WIDTHS = {360: "dark", 1280: "light", 3840: "dark"}
pytestmark = pytest.mark.xdist_group("demo-board")


def test_supervisor_finds_the_van_reads_why_and_signs_a_concession(chromium, served, demo_board) -> None:  # noqa: F811
    with browsing(chromium, served, "supervisor") as page:
        page.fill("#van", "4103")
        page.press("#van", "Enter")
        page.click("table a:has-text('TV-4103')")
        page.wait_for_selector("#charts[data-ready]")
        assert "The bake started 43 min 52 s after the last coat, 13 min 52 s too late" in page.inner_text("section:has(#why)")
        page.select_option("#c-requirement", "bake/bake_start")
        page.fill("#c-reason", "Wipe test passed after an hour, adhesion test 0. Customer told.")
        page.click("text=Sign the concession")
        page.wait_for_selector("text=The concession is signed.")
        assert "Sam Supervisor" in page.inner_text("section[aria-label='Concessions and releases']")
        page.fill("#r-reason", "Inspected under light, no blistering.")
        page.click("text=Release the van")
        page.wait_for_selector("text=The release is signed.")
        assert "released with concession" in page.inner_text("section[aria-label='The job']")
        assert "missed" in page.inner_text("h1")  # a concession never changes a verdict
    with Store.open(demo_board.directory) as store:
        entry = next(store.journal.entries(kinds=["concession"]))
    assert entry.body == {"vehicle": "TV-4103", "requirement": "bake/bake_start"}
    assert entry.private["by"] == "Sam Supervisor" and entry.channel == "board"


def test_ehs_opens_the_week_sees_the_holes_and_signs(chromium, served) -> None:  # noqa: F811
    with browsing(chromium, served, "ehs") as page:
        page.click("nav.main >> text=Ventilation")
        page.click("nav[aria-label=Booths] >> text=South booth")
        assert page.locator("figure.day").count() == 7
        today = page.locator("figure.day").first
        assert "Monday 13 July" in today.inner_text() and "No data 00:00 to 05:5" in today.inner_text()
        assert today.locator("svg .mark.unproven").count() > 0  # a hole is drawn as one
        page.fill("#text", "Velocity low for seconds at three starts: damper. Filters next Monday.")
        page.click("text=Sign as Erin Hygiene")
        page.wait_for_selector("text=The review is signed.")
        assert "damper" in page.inner_text("section:has(#reviews)")


def test_maintenance_enters_a_calibration(chromium, served) -> None:  # noqa: F811
    with browsing(chromium, served, "maintenance") as page:
        opened(page, served, "/instruments")
        page.select_option("#point", "south/humidity")
        page.fill("#as-found", "2.1 percent high at 60 percent")
        page.fill("#as-left", "0.2 percent high")
        page.click("text=Enter it as Max Maintenance")
        page.wait_for_selector("text=The calibration is in the journal.")
        assert "found 2.1 percent high at 60 percent" in page.inner_text("main")


def test_painter_reads_a_record_and_adds_a_note_but_decides_nothing(chromium, served) -> None:  # noqa: F811
    with browsing(chromium, served, "painter") as page:
        opened(page, served, "/record/TV-4103")
        assert page.locator("text=Sign the concession").count() == 0
        page.fill("#n-text", "Run on the left sill, sanded out.")
        page.click("text=Add the note")
        page.wait_for_selector("text=The note is kept.")


@pytest.mark.parametrize("width", WIDTHS)
def test_every_page_is_accessible_and_fits(chromium, served, width: int) -> None:  # noqa: F811
    """WCAG 2.2 AA as far as axe-core 4 can tell; and nothing to scroll sideways to, from a phone to a wall."""
    with browsing(chromium, served, "supervisor", width, WIDTHS[width]) as page:
        for path in PAGES:
            opened(page, served, path)
            assert violations(page) == [], path
            beyond = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            assert beyond <= 0, f"{path} is {beyond} px too wide"


def test_keyboard_alone_suffices(chromium, served) -> None:  # noqa: F811
    """From signing in to a zoomed chart and a signed note, without a pointer."""
    with browsing(chromium, served, "supervisor") as page:
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.className") == "skip"
        _tab_to(page, "#van")
        page.keyboard.type("4104")
        page.keyboard.press("Enter")
        page.wait_for_url("**van=4104**")
        _tab_to(page, "tbody a")
        page.keyboard.press("Enter")
        page.wait_for_selector("#charts[data-ready]")
        _tab_to(page, "#charts")
        before = _shown(page)
        page.keyboard.press("+")
        page.wait_for_function("before => +document.querySelector('#charts').dataset.from > before", arg=before[0])
        zoomed = _shown(page)
        assert zoomed[1] - zoomed[0] == pytest.approx((before[1] - before[0]) / 2, rel=0.01)
        page.keyboard.press("ArrowLeft")
        page.wait_for_function("from => +document.querySelector('#charts').dataset.from < from", arg=zoomed[0])
        page.keyboard.press("Home")
        page.wait_for_function("from => Math.abs(+document.querySelector('#charts').dataset.from - from) < 0.1", arg=before[0])
        _tab_to(page, "#n-text")
        page.keyboard.type("Seen.")
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        page.wait_for_selector("text=The note is kept.")


def _tab_to(page, selector: str) -> None:
    for _ in range(200):
        if page.evaluate("selector => document.activeElement.matches(selector)", selector):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"the keyboard never reached {selector}")


def _shown(page) -> tuple[float, float]:
    box = page.locator("#charts")
    return float(box.get_attribute("data-from")), float(box.get_attribute("data-to"))


def test_a_page_that_lost_its_board_says_old(chromium, served) -> None:  # noqa: F811
    with browsing(chromium, served, "supervisor") as page:
        opened(page, served, "/booths")
        assert not page.is_visible("#old")
        served.stop()
        page.wait_for_selector("#old", state="visible")
        assert page.inner_text("#old").startswith("OLD")
        assert "is-old" in page.get_attribute("[data-refresh]", "class")


def test_old_is_told_by_a_clock_that_nobody_sets_back(chromium) -> None:  # noqa: F811
    """The page's clock is run by hand; the machine's is set back by an hour in between, and nothing answers meanwhile."""
    script = Path("booth/web/static/refresh.js").read_text(encoding="utf-8")
    html = f'<p id="old" hidden>OLD</p><p data-refresh="/now">as of noon</p><script>{script}</script>'
    context = chromium.new_context()
    try:
        page = context.new_page()
        page.route("**/now", lambda route: route.abort())
        page.route("**/desk", lambda route: route.fulfill(body=html, content_type="text/html"))
        page.clock.install(time=7_200)
        page.goto("http://127.0.0.1:8484/desk")
        page.clock.run_for(2000)
        assert page.locator("#old").is_hidden()
        page.clock.set_system_time(3_600)
        page.clock.run_for(3000)
        assert page.locator("#old").is_visible()
    finally:
        context.close()


def test_the_hand_over_fits_one_sheet(chromium, served, tmp_path: Path) -> None:  # noqa: F811
    """A4 portrait, as a browser prints it."""
    from pypdf import PdfReader

    with browsing(chromium, served, "supervisor") as page:
        opened(page, served, "/handover")
        page.pdf(path=tmp_path / "handover.pdf", format="A4")
    read = PdfReader(tmp_path / "handover.pdf")
    assert len(read.pages) == 1
    text = read.pages[0].extract_text()
    assert "TV-4103" in text and "Handed over by" in text and "record-keeping aid" in text


def test_a_copy_is_a_copy(demo_store: Path, tmp_path: Path) -> None:  # noqa: F811
    """The shared store stays as it was made: each test that writes has its own."""
    copy = copied(demo_store, tmp_path)
    with Store.open(copy) as one, Store.open(demo_store) as other:
        assert one.journal.head() == other.journal.head()
        assert not list(other.journal.entries(kinds=["concession", "review"]))
