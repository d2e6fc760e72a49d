"""The painter's page on a real screen: read from four metres, touched with a glove, and honest when nothing comes any more."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.web.booth_scenes import SCENES
from tests.web.booth_screens import LONG_MS, Booth, Screens, chromium, played, violations

SCREEN_MM = 27 * 25.4 * 16 / math.hypot(16, 9)  # width of the assumed screen, 27 inch and 16:9: 598 mm
PHONE_MM_PER_PX = 0.165
TARGET_MM = 20
HOSTILE = {
    "html": "<img src=x onerror=alert(1)>\"'&",
    "long": "VERY-LONG-" * 19,
    "right to left": "حافلة-٤١٠٣",
    "accents": "Ångström-Überführung 4103",
}

expect.set_options(timeout=LONG_MS)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as made:
        yield made


@pytest.fixture
def screens(browser: Browser) -> Iterator[Screens]:
    with ExitStack() as stack:
        made = Screens(browser, stack)
        yield made
        assert made.troubles == []


@pytest.fixture
def booth_of(tmp_path: Path) -> Iterator[Callable[..., Booth]]:
    with ExitStack() as stack:
        yield lambda scene, vehicle="TV-4117": stack.enter_context(played(tmp_path / "store", SCENES[scene], vehicle))


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Booth]:
    """A missed bake that nothing happens to: for tests that only look."""
    with played(tmp_path_factory.mktemp("missed") / "store", SCENES["missed"]) as made:
        yield made


def streaming(page: Page) -> Page:
    """Once the stream has brought the live part for the first time."""
    page.wait_for_function("() => document.documentElement.classList.contains('is-followed')", timeout=LONG_MS)
    return page


def test_a_reading_that_arrives_comes_onto_the_screen(booth_of, screens: Screens) -> None:
    booth = booth_of("spraying")
    page = streaming(screens.open(booth.page_url))
    expect(page.locator(".figure").first.locator(".big")).to_have_text("23.4")
    booth.play.air(120, 121, gun_1=300, air_temperature=25.6)
    expect(page.locator(".figure").first.locator(".big")).to_have_text("25.6")


def test_a_cut_connection_says_old_and_comes_back_by_itself(booth_of, screens: Screens) -> None:
    booth = booth_of("spraying")
    page = streaming(screens.open(booth.page_url))
    assert page.locator("#old").is_hidden()
    page.context.set_offline(True)
    booth.board.live.stop()
    expect(page.locator("#old")).to_be_visible()
    expect(page.locator("#old strong")).to_have_text("OLD")
    expect(page.locator("#old-text")).to_contain_text("07:01:55")
    assert page.evaluate("getComputedStyle(document.querySelector('#live .big')).textDecorationLine") == "line-through"
    letters = page.evaluate("parseFloat(getComputedStyle(document.querySelector('#old strong')).fontSize)")
    assert letters * SCREEN_MM / 1920 * 0.7 > 23  # capitals are 0.7 of the font size


def test_old_is_said_within_five_seconds_by_the_pages_own_clock(shared: Booth, browser: Browser) -> None:
    """The page's clock is run by hand, so that a busy machine can't change the outcome."""
    context = browser.new_context(viewport={"width": 1920, "height": 1080})
    try:
        page = context.new_page()
        page.clock.install()
        page.route("**/stream*", lambda route: route.abort())
        page.goto(shared.page_url)
        page.clock.run_for(3000)
        assert page.locator("#old").is_hidden()
        page.clock.run_for(2000)
        assert page.locator("#old").is_visible()
    finally:
        context.close()


def test_a_stopped_logger_is_told_as_such(booth_of, screens: Screens) -> None:
    booth = booth_of("spraying")
    page = streaming(screens.open(booth.page_url))
    assert page.locator(".fault").count() == 0
    booth.play.logger.close()
    expect(page.locator(".fault")).to_contain_text("LOGGER STOPPED")


def test_the_alarm_says_what_by_how_much_and_what_to_do(shared: Booth, screens: Screens) -> None:
    page = streaming(screens.open(shared.page_url))
    notice = page.locator(".notice").first
    expect(notice.locator(".priority")).to_have_text("ALARM")
    expect(notice.locator("h3")).to_contain_text("Bake start missed by 2:")
    expect(notice.locator(".what-to-do")).to_contain_text("Call the supervisor before the bake starts")
    expect(notice).to_contain_text("TV-4117")
    assert "badge-17" not in page.content() and "Painter" not in page.content()
    assert page.locator("footer.cautions li").count() >= 5


def test_one_touch_on_two_screens_is_one_entry(booth_of, screens: Screens) -> None:
    booth = booth_of("missed")
    first, second = (streaming(screens.open(booth.page_url, signed_in=True)) for _ in range(2))
    for page in (first, second):
        expect(page.locator("button.acknowledge")).to_be_visible()
    for page in (first, second):
        page.locator("button.acknowledge").dispatch_event("click")
    for page in (first, second):
        page.wait_for_function("() => document.querySelector('[aria-busy]') === null")
    expect(first.locator("#said")).to_be_hidden()
    booth.play.look(booth.play.now + 1)
    for page in (first, second):
        expect(page.locator(".notice").first).to_contain_text("acknowledged")
    entries = list(booth.play.store.journal.entries(kinds=["acknowledge"]))
    assert [(one.channel, one.private["by"]) for one in entries] == [("board", "badge-7")]


def test_a_coat_is_started_and_finished_from_the_page(booth_of, screens: Screens) -> None:
    booth = booth_of("flashing")
    page = streaming(screens.open(booth.page_url, signed_in=True))
    assert page.get_by_role("button", name="Start clear-1", exact=True).count() == 0  # too early: one touch is not enough
    page.locator(".early summary").click()
    page.get_by_role("button", name="Start clear-1 all the same").click()
    expect(page.get_by_role("button", name="Finish clear-1", exact=True)).to_be_visible()
    page.get_by_role("button", name="Hold").click()
    expect(page.get_by_role("button", name="Resume")).to_be_visible()
    page.get_by_role("button", name="Resume").click()
    expect(page.get_by_role("button", name="Hold")).to_be_visible()
    page.get_by_role("button", name="Finish clear-1", exact=True).click()
    expect(page.get_by_role("button", name="Finish clear-1", exact=True)).to_have_count(0)
    kinds = [one.kind for one in booth.play.store.journal.entries() if one.channel == "board"]
    assert [kind for kind in kinds if kind != "config"] == ["step-start", "hold", "resume", "step-end"]


def test_what_the_guns_told_is_confirmed_or_said_to_be_no_coat(booth_of, screens: Screens) -> None:
    booth = booth_of("untold")
    page = streaming(screens.open(booth.page_url, signed_in=True))
    page.get_by_role("button", name="Confirm sealer").click()
    page.wait_for_function("() => document.querySelector('[aria-busy]') === null")
    expect(page.locator("#said")).to_be_hidden()
    expect(page.get_by_role("button", name="Confirm sealer")).to_have_count(0)
    journal = list(booth.play.store.journal.entries(kinds=["step-start", "step-end"]))
    told, said = ([one for one in journal if (one.channel == "inferred") == inferred] for inferred in (True, False))
    assert [(one.kind, one.effective) for one in said] == [(one.kind, one.effective) for one in told]
    assert {one.channel for one in said} == {"board"} and {one.private["by"] for one in said} == {"badge-7"}


def test_a_burst_that_was_no_coat(booth_of, screens: Screens) -> None:
    booth = booth_of("untold")
    page = streaming(screens.open(booth.page_url, signed_in=True))
    page.get_by_role("button", name="That was no coat").click()
    page.wait_for_function("() => document.querySelector('[aria-busy]') === null")
    expect(page.locator("#said")).to_be_hidden()
    expect(page.get_by_role("button", name="That was no coat")).to_have_count(0)
    start = next(booth.play.store.journal.entries(kinds=["step-start"]))
    assert [one.body["corrects"] for one in booth.play.store.journal.entries(kinds=["not-a-coat"])] == [start.id]


def test_a_touch_that_carries_nothing_is_refused_in_a_sentence(booth_of, screens: Screens) -> None:
    page = streaming(screens.open(booth_of("missed").page_url, signed_in=True))
    page.evaluate("document.querySelector('button.acknowledge').value = 'nonsense'")
    page.locator("button.acknowledge").dispatch_event("click")
    expect(page.locator("#said")).to_contain_text("That was not kept")


def test_a_scanner_picks_the_van_wherever_the_focus_is(booth_of, screens: Screens) -> None:
    booth = booth_of("two_vans")
    page = streaming(screens.open(booth.page_url, signed_in=True))
    page.keyboard.type("TV-4121")
    page.keyboard.press("Enter")
    page.wait_for_url("**van=TV-4121")
    expect(page.locator(".van.is-picked h2")).to_have_text("TV-4121")
    streaming(page)
    page.keyboard.type("TV-9999")
    page.keyboard.press("Enter")
    expect(page.locator(".stranger")).to_contain_text("TV-9999 is not entered for this booth")
    page.get_by_role("button", name="TV-9999 came in beside the others").click()
    expect(page.locator(".van")).to_have_count(3)
    loads = [one for one in booth.play.store.journal.entries(kinds=["load"]) if one.channel == "board"]
    assert [[van["vehicle"] for van in one.body["vans"]] for one in loads] == [["TV-4117", "TV-4121", "TV-9999"]]


def test_without_a_script_the_page_is_read_all_the_same(shared: Booth, screens: Screens) -> None:
    page = screens.open(shared.page_url, java_script_enabled=False)
    assert "Bake start missed" in page.locator(".notice h3").first.inner_text()
    assert page.locator(".figure .big").count() == 4


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", [(1920, 1080), (390, 844)], ids=["wide", "phone"])
def test_axe_finds_nothing(shared: Booth, screens: Screens, size: tuple[int, int], theme: str) -> None:
    page = streaming(screens.open(shared.page_url, signed_in=True, size=size, color_scheme=theme))
    page.emulate_media(reduced_motion="reduce", color_scheme=theme)
    assert violations(page) == []


@pytest.mark.parametrize("scene", ["no_air", "unheard", "flashing", "damp"])
def test_axe_finds_nothing_whatever_stands(booth_of, screens: Screens, scene: str) -> None:
    page = streaming(screens.open(booth_of(scene).page_url, signed_in=True))
    page.emulate_media(reduced_motion="reduce")
    assert violations(page) == []


@pytest.mark.parametrize(
    ("size", "mm_per_px"), [((1920, 1080), SCREEN_MM / 1920), ((3840, 2160), SCREEN_MM / 3840), ((390, 844), PHONE_MM_PER_PX)]
)
def test_what_a_glove_touches_is_twenty_millimetres(shared: Booth, screens: Screens, size, mm_per_px: float) -> None:
    page = streaming(screens.open(shared.page_url, signed_in=True, size=size))
    boxes = page.locator("main button:visible, main a.button:visible, main summary:visible, #van").all()
    assert len(boxes) >= 3
    for one in boxes:
        box = one.bounding_box()
        told = (one.inner_text(), box["width"] * mm_per_px, box["height"] * mm_per_px)
        assert min(told[1:]) >= TARGET_MM - 0.1, told


@pytest.mark.parametrize("width", [1920, 3840])
def test_key_figures_are_read_from_four_metres(shared: Booth, screens: Screens, width: int) -> None:
    """20 minutes of arc at 4 m (ISO 9241-303, from memory): 4000 * tan(20') = 23.3 mm of capital height."""
    page = streaming(screens.open(shared.page_url, size=(width, width * 9 // 16)))
    capital = page.evaluate(
        """(key) => {
          const context = document.createElement('canvas').getContext('2d');
          return [...document.querySelectorAll(key)].map((node) => {
            const style = getComputedStyle(node);
            context.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
            const drawn = context.measureText('H').actualBoundingBoxAscent;
            return style.fontSizeAdjust.startsWith('cap-height') ? 0.7 * parseFloat(style.fontSize) : drawn;
          });
        }""",
        ".figure .big, .van dd.big, section.notices > article:nth-child(2) h3",
    )
    wanted = 4000 * math.tan(math.radians(20 / 60))
    assert len(capital) >= 6
    assert all(one * SCREEN_MM / width >= wanted - 0.1 for one in capital), [one * SCREEN_MM / width for one in capital]


@pytest.mark.parametrize("width", [360, 768, 1280, 3840])
@pytest.mark.parametrize("language", ["en", "es", "fr"])
def test_nothing_runs_off_the_side(shared: Booth, screens: Screens, width: int, language: str) -> None:
    page = screens.open(shared.page_url, size=(width, 900))
    page.select_option("select[name=language]", language)
    page.locator("footer.cautions button").click()
    page.wait_for_load_state()
    assert page.locator("html").get_attribute("lang") == language
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("vehicle", HOSTILE.values(), ids=HOSTILE)
def test_a_vans_number_breaks_nothing(booth_of, screens: Screens, vehicle: str) -> None:
    booth = booth_of("flashing", vehicle)
    for width in (360, 1920):
        page = streaming(screens.open(booth.page_url, size=(width, 900)))
        assert page.locator(".van h2").inner_text() == vehicle
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_the_keyboard_alone_suffices(booth_of, screens: Screens) -> None:
    booth = booth_of("missed")
    page = streaming(screens.open(booth.page_url, signed_in=True))
    for _ in range(20):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.classList.contains('acknowledge')"):
            break
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    page.keyboard.press("Enter")
    page.wait_for_function("() => document.querySelector('[aria-busy]') === null")
    booth.play.look(booth.play.now + 1)
    expect(page.locator(".notice").first).to_contain_text("acknowledged")


def test_sound_after_the_first_touch_and_silence_until_the_next_alarm(booth_of, screens: Screens) -> None:
    booth = booth_of("missed")
    page = streaming(screens.open(booth.page_url))
    expect(page.locator("html.is-sounding")).to_have_count(1)
    page.locator("#sound").click()
    expect(page.locator("#sound")).to_be_hidden()
    page.locator("#mute").click()
    expect(page.locator("html.is-sounding")).to_have_count(0)
    booth.play.air(2260, 2280, every=5, gun_1=300, air_velocity=0.05)
    expect(page.locator("html.is-sounding")).to_have_count(1)


def test_units_and_language_are_the_screens_own(shared: Booth, screens: Screens) -> None:
    page = screens.open(shared.page_url)
    page.select_option("select[name=units]", "US")
    page.select_option("select[name=language]", "fr")
    page.locator("footer.cautions button").click()
    expect(page.locator(".figure").first.locator(".unit")).to_have_text("°F")
    expect(page.locator(".notice h3").first).to_contain_text("Début de cuisson")
    other = screens.open(shared.page_url)
    expect(other.locator(".figure").first.locator(".unit")).to_have_text("°C")
