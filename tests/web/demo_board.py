"""The demonstration's store, made once, and a board over a copy of it that real browsers can open."""

from __future__ import annotations

import fcntl
import os
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
import uvicorn

from booth.clocks import TickClock
from booth.demo.plant import InProcessPlant
from booth.logger import Logger
from booth.store import Store
from booth.times import parse_time
from booth.web.app import create_app
from booth.web.board import Board
from booth.web.people.accounts import Accounts
from tests.app.plants import demo_shop
from tests.web.conftest import PASSWORD, PEOPLE, PIN

END = parse_time("2026-07-13T19:00:00Z")
STARTED_WITHIN_S = 30
CHROMIUM = "/usr/bin/chromium"
ARGS = [
    *("--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"),
    *("--disable-sync", "--no-first-run", "--disable-quic"),
]
PAGES = ("/booths", "/handover", "/records", "/record/TV-4103", "/ventilation/south", "/instruments")


class Still:
    """A clock that stands: the demonstration's shift has just ended."""

    def now(self) -> int:
        return END


@pytest.fixture(scope="session")
def demo_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The store of one demonstration shift, made once however many processes share the tests. Never written to: copy it."""
    base = tmp_path_factory.getbasetemp()
    root = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
    with (root / "demo-store.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        made = root / "demo-store"
        if not made.exists():
            play_demo(root / "demo-being-made")
            (root / "demo-being-made").rename(made)
    return made / "store"


def play_demo(folder: Path) -> None:
    """The whole shift through the ordinary logger, without a broker and without documents."""
    folder.mkdir()
    with Store.open(folder / "store", writer=True) as store:
        logger = Logger(demo_shop(), store, TickClock(), [])
        plant = InProcessPlant(1, folder / "truth.json", logger.stopping)
        logger.notifiers = [plant]
        logger.run(plant)
        logger.close()


def board_over(store: Path, clock=None) -> Board:
    """A board with one account of each role."""
    shop, accounts = demo_shop(), Accounts(store)
    for name, role, badge, admin in PEOPLE.values():
        account = accounts.add(name, role, badge, admin)
        accounts.set_secret(accounts.link(account.id), PIN if badge else PASSWORD)
    return Board(shop, store, accounts, shop.site.board, clock or Still())


@pytest.fixture
def demo_board(demo_store: Path, tmp_path: Path) -> Board:
    return board_over(copied(demo_store, tmp_path))


def copied(store: Path, folder: Path) -> Path:
    """A copy for one test. SQLite's shared memory comes and goes beside the file, and isn't part of it."""
    return Path(shutil.copytree(store, folder / "store", ignore=shutil.ignore_patterns("*-shm")))


@dataclass
class Served:
    """A board that answers; `stop` ends it under whoever looks at it."""

    url: str
    server: uvicorn.Server
    thread: threading.Thread

    def stop(self) -> None:
        self.server.should_exit = self.server.force_exit = True
        self.thread.join(STARTED_WITHIN_S)


@contextmanager
def serving(board: Board) -> Iterator[Served]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    settings = uvicorn.Config(create_app(board), host="127.0.0.1", port=port, log_level="error", ws="none")
    server = uvicorn.Server(settings)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    deadline = time.monotonic() + STARTED_WITHIN_S
    while not server.started and time.monotonic() < deadline:
        time.sleep(0.02)
    assert server.started, "the board did not start"
    served = Served(f"http://127.0.0.1:{port}", server, thread)
    yield served
    served.stop()


@pytest.fixture
def served(demo_board: Board) -> Iterator[Served]:
    with serving(demo_board) as made:
        yield made


@pytest.fixture(scope="module")
def chromium() -> Iterator:
    """A real browser; one for each test module."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGS)
        yield browser
        browser.close()


@contextmanager
def browsing(chromium, served: Served, who: str | None, width: int = 1280, scheme: str = "light") -> Iterator:
    """A page of a fresh browser with somebody of PEOPLE signed in. Scripts that fail, and rules of the security policy that
    are broken, fail the test.
    """
    context = chromium.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme, reduced_motion="reduce")
    page = context.new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda message: wrong.append(message.text) if "Content Security Policy" in message.text else None)
    if who is not None:
        sign_in_by_hand(page, served, who)
    yield page
    context.close()
    assert not wrong, wrong


def sign_in_by_hand(page, served: Served, who: str) -> None:
    name, _, badge, _ = PEOPLE[who]
    page.goto(f"{served.url}/sign-in?next=/records")
    fields = {"badge": badge, "pin": PIN} if badge else {"name": name, "password": PASSWORD}
    for field, value in fields.items():
        page.fill(f"[name={field}]", value)
    page.press(f"[name={list(fields)[-1]}]", "Enter")
    page.wait_for_url("**/records")


def opened(page, served: Served, path: str) -> None:
    """A page with everything on it that its script draws."""
    page.goto(served.url + path)
    if path.startswith("/record/"):
        page.wait_for_selector("#charts[data-ready]")


AXE = Path(__file__).parents[2] / "booth/web/third-party/axe.js"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def violations(page) -> list[str]:
    """What axe-core finds against WCAG 2.2 AA and its own best practice, each with the first element that it is about."""
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate("rules => axe.run({runOnly: rules})", RULES)["violations"]
    return [f"{one['id']}: {one['nodes'][0]['html']}" for one in found]
