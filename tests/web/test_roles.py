"""Every page × every role and nobody, written down a second time: a new page fails here until it is decided who may open it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from booth.shop.board import Board as Settings
from booth.web.all_pages import ALL_PAGES
from booth.web.app import create_app
from booth.web.pages import NOBODY, ONLOOKER, ROLES, Page
from booth.web.people import api_tokens, csrf, sessions
from booth.web.people.cookies import SESSION
from tests.web.conftest import ADDRESS, TestClient

EVERYBODY = "P S E M A"
OPEN = f"{EVERYBODY} nobody"  # whoever is not signed in too
SCREENS = f"{EVERYBODY} screen"  # and a screen where the site leaves its booth page open

WHO_MAY = {
    **dict.fromkeys(("home", "booth", "booth-stream", "label"), SCREENS),
    **{"booth-act": EVERYBODY},  # which act, booth.web.acts decides
    **dict.fromkeys(("booths", "booths-now", "booths-acknowledge", "handover", "records"), EVERYBODY),
    **dict.fromkeys(("record", "record-traces", "record-document"), EVERYBODY),
    **{"record-act": "P S A", "ventilation-sign": "S E A", "instruments-calibrate": "S M A"},
    **dict.fromkeys(("ventilation", "ventilation-log", "instruments"), EVERYBODY),
    **dict.fromkeys(("sign-in", "sign-in-sent", "sign-out", "first", "first-sent", "screen", "health", "static"), OPEN),
    **{"accounts": "A", "accounts-changed": "A"},
    **dict.fromkeys(("api-vehicles", "api-record", "api-booths", "api-booth", "api-alarms"), EVERYBODY),
    **dict.fromkeys(("api-quarantine", "api-journal", "openapi"), EVERYBODY),
}
LETTER = {"painter": "P", "supervisor": "S", "ehs": "E", "maintenance": "M", "admin": "A", None: "nobody"}
READS_BY_TOKEN = {name for name in WHO_MAY if name.startswith("api-") or name == "openapi"}


async def opened(_request: Request) -> Response:
    return PlainTextResponse("opened")


STUBS = tuple(replace(page, endpoint=opened) for page in ALL_PAGES)
"""The same rows and the same door, with nothing behind it: a wrong table can't change the store."""


@pytest.fixture
def door(board, people) -> Iterator:
    app = create_app(board, STUBS, follow=False)

    def ask(page: Page, key: str | None):
        browser = TestClient(app, base_url=ADDRESS, follow_redirects=False)
        if key is not None:
            browser.cookies.set(SESSION, sessions.begin(board.accounts, people[key].id, board.settings, None))
        return asked(browser, page)

    yield ask


def asked(browser: TestClient, page: Page, **headers: str):
    path = page.path
    for part in ("booth", "vehicle", "vehicle:path", "token", "digest", "name", "form"):
        path = path.replace(f"{{{part}}}", "x")
    assert "{" not in path, f"say in this test what stands for the part in {page.path}"
    if page.methods == ("GET",):
        return browser.get(path, headers=headers)
    return browser.post(path, headers=headers | {csrf.HEADER: token_of(browser)})


def token_of(browser: TestClient) -> str:
    """The token that the forms of this browser carry, as booth.web.people.csrf makes it out of its cookie."""
    scope = {"type": "http", "headers": [], "app": browser.app}
    request = Request(scope)
    request._cookies = dict(browser.cookies)
    found = csrf.token_of(request)
    if getattr(request.state, "visit", None):
        browser.cookies.set("booth_visit", request.state.visit)
    return found


def is_let_in(answer) -> bool:
    if answer.status_code == 200 and answer.text == "opened":
        return True
    refused = answer.status_code in (401, 403) or answer.headers.get("location", "").startswith("/sign-in?next=")
    assert refused, f"{answer.request.url}: neither let in nor refused, but {answer.status_code}"
    return False


def test_every_page_is_in_the_table_and_the_table_has_no_others() -> None:
    names = [page.name for page in ALL_PAGES]
    assert len(names) == len(set(names))
    assert set(names) == set(WHO_MAY)


@pytest.mark.parametrize("key", LETTER)
def test_who_may_open_what(door, key: str | None) -> None:
    for page in ALL_PAGES:
        words = WHO_MAY[page.name].split()
        wanted = LETTER[key] in words or (key is None and "screen" in words)
        assert is_let_in(door(page, key)) == wanted, f"{page.name} for {key}"


def test_a_site_may_close_its_booth_page(board, people) -> None:
    board.settings = Settings(open_booth_page=False)
    app = create_app(board, STUBS, follow=False)
    for page in ALL_PAGES:
        let_in = is_let_in(asked(TestClient(app, base_url=ADDRESS, follow_redirects=False), page))
        assert let_in == ("nobody" in WHO_MAY[page.name].split()), page.name


def test_an_api_token_opens_the_api_and_nothing_else(board) -> None:
    app = create_app(board, STUBS, follow=False)
    bearer = f"Bearer {api_tokens.make(board.accounts, 'a program', 'Ada Admin')}"
    for page in ALL_PAGES:
        let_in = is_let_in(asked(TestClient(app, base_url=ADDRESS, follow_redirects=False), page, Authorization=bearer))
        open_to_all = {"nobody", "screen"} & set(WHO_MAY[page.name].split())
        assert let_in == (page.name in READS_BY_TOKEN or bool(open_to_all)), page.name


def test_rows_name_roles_that_there_are() -> None:
    for page in ALL_PAGES:
        assert page.roles <= {*ROLES, NOBODY, ONLOOKER, "admin"}, page.name
        assert page.body_limit <= 1024 * 1024, page.name
        assert not page.token or page.methods == ("GET",), page.name
