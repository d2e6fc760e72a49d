"""A board that listens, with a play behind it and real screens in front, for tests of the painter's page."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, sync_playwright

from booth.store import Store
from booth.web.board import Board
from booth.web.people.accounts import Accounts
from booth.web.serving import Server, listening
from tests.web.booth_scenes import BOOTH, Play

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = [
    *("--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update", "--disable-sync"),
    *("--no-first-run", "--disable-quic"),
]
BADGE, PIN = "badge-7", "402917"
AXE = Path(__file__).parents[2] / "booth/web/third-party/axe.js"
LONG_MS = 30_000  # how long a busy machine may take; nothing here is timed


class StandingClock:
    """The logger's clock as the play left it: it moves when the play does, and stands still in between."""

    def __init__(self, play: Play) -> None:
        self._play = play

    def now(self) -> int:
        return self._play.clock.now()


class Booth:
    """One booth being played, and its board."""

    def __init__(self, play: Play, board: Board, url: str) -> None:
        self.play, self.board, self.url = play, board, url
        self.page_url = f"{url}/booth/{BOOTH}"


@contextmanager
def played(folder: Path, scene: Callable[[Play], None], vehicle: str = "TV-4117") -> Iterator[Booth]:
    """The scene played, the board up. Playing goes on in the test's own thread."""
    with Store.open(folder, writer=True) as store:
        play = Play(store, vehicle)
        scene(play)
        accounts = Accounts(folder)
        painter = accounts.add("Painter Seven", "painter", BADGE, False)
        accounts.set_secret(accounts.link(painter.id), PIN)
        board = Board(play.shop, folder, accounts, play.shop.site.board, StandingClock(play))
        with serving(board) as url:
            yield Booth(play, board, url)


@contextmanager
def serving(board: Board) -> Iterator[str]:
    server = Server(board)
    with listening("127.0.0.1", 0) as place:
        thread = threading.Thread(target=server.run, kwargs={"sockets": [place]}, daemon=True)
        thread.start()
        while not server.started and thread.is_alive():
            thread.join(0.05)
        try:
            yield f"http://127.0.0.1:{place.getsockname()[1]}"
        finally:
            server.should_exit = True
            thread.join(30)


@contextmanager
def chromium() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        try:
            yield browser
        finally:
            browser.close()


class Screens:
    """Screens of one browser; each has its own cookies."""

    def __init__(self, browser: Browser, stack: ExitStack) -> None:
        self._browser, self._stack = browser, stack
        self.troubles: list[str] = []

    def open(self, url: str, signed_in: bool = False, size: tuple[int, int] = (1920, 1080), **settings: Any) -> Page:
        context = self._browser.new_context(viewport={"width": size[0], "height": size[1]}, **settings)
        self._stack.callback(context.close)
        page = context.new_page()
        page.set_default_timeout(LONG_MS)
        page.on("pageerror", lambda error: self.troubles.append(str(error)))
        page.on("console", lambda told: self.troubles.append(told.text) if "Content Security" in told.text else None)
        if signed_in:
            page.goto(f"{url.rsplit('/booth/', 1)[0]}/sign-in?next=/booth/{BOOTH}")
            page.fill("#badge", BADGE)
            page.fill("#pin", PIN)
            page.press("#pin", "Enter")
            page.wait_for_url("**/booth/**")
        page.goto(url)
        return page


def violations(page: Page) -> list[str]:
    """What axe-core finds against WCAG 2.2 AA."""
    page.evaluate(AXE.read_text(encoding="utf-8"))
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    found = page.evaluate("(tags) => axe.run(document, {runOnly: tags})", tags)
    return [f"{one['id']}: {node['html'][:160]}" for one in found["violations"] for node in one["nodes"]]
