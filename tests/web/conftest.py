"""The board over a real small store: one van's shift out of the simulator."""

from __future__ import annotations

import re
import shutil
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from starlette.applications import Starlette

from booth.intake import remember_config
from booth.store import Store
from booth.web.app import create_app
from booth.web.board import Board
from booth.web.people import sessions
from booth.web.people.accounts import Account, Accounts
from booth.web.people.cookies import SESSION
from booth.web.people.secrets_of_people import hashed
from tests.app.plants import demo_shop, play, shift_of_one_van

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # Starlette asks for a successor of httpx that isn't everywhere yet
    from starlette.testclient import TestClient

ADDRESS = "http://127.0.0.1:8484"
PASSWORD = "a bench of grey primer tins"
PIN = "402917"
PEOPLE = {  # name, role, badge, admin
    "painter": ("Painter Seven", "painter", "badge-7", False),
    "supervisor": ("Sam Supervisor", "supervisor", None, False),
    "ehs": ("Erin Hygiene", "ehs", None, False),
    "maintenance": ("Max Maintenance", "maintenance", None, False),
    "admin": ("Ada Admin", "supervisor", None, True),
}


def batches(messages) -> Iterator[tuple[int, list[tuple[str, dict]]]]:
    """The shift's messages by the tick that they came with."""
    together: list[tuple[str, dict]] = []
    at = None
    for tick, topic, body in messages:
        if at is not None and tick != at:
            yield at, together
            together = []
        at = tick
        together.append((topic, body))
    if at is not None:
        yield at, together


@pytest.fixture(scope="session")
def played_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with one van's whole shift; made once, and copied for each test that writes."""
    folder = tmp_path_factory.mktemp("played") / "store"
    with Store.open(folder, writer=True) as store:
        remember_config(store, demo_shop(), shift_of_one_van()[0][0])
        play(store, batches(shift_of_one_van()))
    return folder


@pytest.fixture
def store_folder(played_store: Path, tmp_path: Path) -> Path:
    """A copy of this test's own."""
    return Path(shutil.copytree(played_store, tmp_path / "store"))


def bare_board(folder: Path) -> Board:
    """A board over a store, for tests that share one."""
    shop = demo_shop()
    return Board(shop, folder, Accounts(folder), shop.site.board)


@pytest.fixture
def board(store_folder: Path) -> Board:
    return bare_board(store_folder)


@pytest.fixture
def accounts(board: Board) -> Accounts:
    return board.accounts


@pytest.fixture
def board_app(board: Board) -> Starlette:
    return create_app(board)


@pytest.fixture
def client(board_app: Starlette) -> Iterator[TestClient]:
    """Nobody's browser."""
    with TestClient(board_app, base_url=ADDRESS, follow_redirects=False) as made:
        yield made


@pytest.fixture(scope="session")
def hashes() -> dict[bool, str]:
    """The hash of a painter's PIN (true) and of everybody else's password: slow to make, as it should be, so made once."""
    return {True: hashed(PIN), False: hashed(PASSWORD)}


@pytest.fixture
def people(accounts: Accounts, hashes: dict[bool, str]) -> dict[str, Account]:
    """One account of each role, and an admin."""
    found = {key: accounts.add(name, role, badge, admin) for key, (name, role, badge, admin) in PEOPLE.items()}
    with accounts.file.work() as database:
        for account in found.values():
            row = (hashes[account.badge is not None], account.id)
            database.execute("UPDATE account SET secret = ? WHERE id = ?", row)
    return found


def csrf_of(text: str) -> str:
    """The token in a page's form."""
    found = re.search(r'name="csrf" value="([0-9a-f]+)"', text)
    assert found, "the page has no form of ours"
    return found[1]


def sign_in(client: TestClient, key: str) -> TestClient:
    """Sign somebody of PEOPLE in with their own secret, through the page."""
    name, _, badge, _ = PEOPLE[key]
    fields = {"badge": badge, "pin": PIN} if badge else {"name": name, "password": PASSWORD}
    answer = client.post("/sign-in", data={**fields, "csrf": csrf_of(client.get("/sign-in").text)})
    assert answer.status_code == 303, answer.text
    return client


@pytest.fixture
def as_person(board_app: Starlette, board: Board, people: dict[str, Account]) -> Iterator[Callable[[str | None], TestClient]]:
    """A browser with somebody of PEOPLE signed in already; None for nobody. The application runs once for all of them."""
    with TestClient(board_app, base_url=ADDRESS, follow_redirects=False):

        def browser(key: str | None) -> TestClient:
            made = TestClient(board_app, base_url=ADDRESS, follow_redirects=False)
            if key is not None:
                made.cookies.set(
                    SESSION, sessions.begin(board.accounts, people[key].id, board.settings, None), domain="127.0.0.1"
                )
            return made

        yield browser
