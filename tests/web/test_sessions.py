"""Signing in, staying in, being thrown out; and how often it may be tried."""

from __future__ import annotations

from dataclasses import replace

import pytest
from starlette.responses import PlainTextResponse, Response

from booth.clocks import TickClock
from booth.shop.board import Board as Settings
from booth.times import HOUR, MINUTE, SECOND
from booth.web.all_pages import ALL_PAGES
from booth.web.app import create_app
from booth.web.people import sessions, throttle
from booth.web.people.accounts import Accounts
from booth.web.people.cookies import SESSION, VISIT
from tests.web.conftest import ADDRESS, PASSWORD, PIN, TestClient, csrf_of, sign_in

START = 1_800_000_000_000_000


@pytest.fixture
def clock(accounts: Accounts) -> TickClock:
    accounts.clock = TickClock(START)
    return accounts.clock


def set_cookies(answer) -> dict[str, str]:
    """Set-Cookie lines by the cookie's name."""
    return {line.partition("=")[0]: line for line in answer.headers.get_list("set-cookie")}


def post_sign_in(client: TestClient, **fields: str):
    return client.post("/sign-in", data={"csrf": csrf_of(client.get("/sign-in").text), **fields})


def test_a_person_signs_in_and_out(as_person) -> None:
    browser = as_person("admin")
    assert "Ada Admin" in browser.get("/accounts").text
    token = browser.cookies[SESSION]
    answer = browser.post("/sign-out", data={"csrf": csrf_of(browser.get("/accounts").text)})
    assert answer.status_code == 303
    browser.cookies.set(SESSION, token)  # whoever kept the cookie gains nothing by it
    assert browser.get("/accounts").status_code == 303


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(client: TestClient, people) -> None:
    before = set_cookies(client.get("/sign-in"))[VISIT]
    after = set_cookies(post_sign_in(client, badge="badge-7", pin=PIN))[SESSION]
    for line in (before, after):
        assert "HttpOnly" in line and "SameSite=strict" in line and "Path=/" in line and "Domain" not in line


def test_behind_tls_the_cookie_is_secure_and_host_bound(board, people) -> None:
    board.settings = Settings(behind_proxy="10.0.4.2", host="10.0.4.3", allowed_hosts=("board.shop.lan",))
    browser = TestClient(create_app(board, follow=False), base_url="https://board.shop.lan", follow_redirects=False)
    answer = post_sign_in(browser, badge="badge-7", pin=PIN)
    line = set_cookies(answer)[f"__Host-{SESSION}"]
    assert "Secure" in line and "HttpOnly" in line and "Path=/" in line and "Domain" not in line
    assert browser.get("/api/v1/journal").status_code == 200


def test_the_session_of_before_is_not_the_session_of_after(client: TestClient, people, accounts: Accounts, board) -> None:
    """Fixation: a session or visit cookie that somebody slipped in is worth nothing once its victim has signed in."""
    known = sessions.begin(accounts, people["painter"].id, board.settings, None)
    client.cookies.set(SESSION, known, domain="127.0.0.1")
    sign_in(client, "supervisor")
    after = [cookie.value for cookie in client.cookies.jar if cookie.name == SESSION]
    assert known not in after or len(after) > 1
    assert sessions.person_of(accounts, known, board.settings) is None


def test_an_invented_session_is_nobody(client: TestClient, people) -> None:
    client.cookies.set(SESSION, "A" * 43)
    assert client.get("/accounts").headers["location"].startswith("/sign-in")


def test_a_painter_stays_for_the_shift_and_others_while_they_do_something(people, accounts, clock, board) -> None:
    settings = board.settings
    painter = sessions.begin(accounts, people["painter"].id, settings, None)
    ehs = sessions.begin(accounts, people["ehs"].id, settings, None)
    clock.set(START + settings.idle - SECOND)
    assert sessions.person_of(accounts, ehs, settings).name == "Erin Hygiene"
    clock.set(clock.now() + settings.idle)
    assert sessions.person_of(accounts, ehs, settings) is None
    assert sessions.person_of(accounts, painter, settings).by == "badge-7"
    clock.set(START + settings.session)
    assert sessions.person_of(accounts, painter, settings) is None


@pytest.mark.parametrize("path", ["/booths/now", "/booth/north/stream"])
def test_what_a_page_asks_for_by_itself_keeps_nobody_signed_in(people, clock: TickClock, board, path: str) -> None:
    """A browser left open on a live page asks every two seconds, whether or not anybody is there."""

    async def asked(_request) -> Response:
        return PlainTextResponse("asked")

    stubs = tuple(replace(page, endpoint=asked) for page in ALL_PAGES)
    browser = TestClient(create_app(board, stubs, follow=False), base_url=ADDRESS, follow_redirects=False)
    browser.cookies.set(SESSION, sessions.begin(board.accounts, people["supervisor"].id, board.settings, None))
    began = clock.now()
    while clock.now() < began + board.settings.idle - 10 * MINUTE:
        clock.set(clock.now() + 10 * MINUTE)
        assert browser.get(path).status_code == 200
    clock.set(began + board.settings.idle)
    assert browser.get("/records").status_code == 303


def test_nobody_stays_longer_than_a_session_however_busy(people, accounts, clock, board) -> None:
    ehs = sessions.begin(accounts, people["ehs"].id, board.settings, None)
    for hours in range(1, 24):
        clock.set(START + hours * HOUR // 2)
        alive = sessions.person_of(accounts, ehs, board.settings) is not None
        assert alive == (hours * HOUR // 2 < board.settings.session)
    clock.set(START + 12 * HOUR)
    assert sessions.person_of(accounts, ehs, board.settings) is None


def test_a_disabled_account_is_out_at_once(as_person, accounts: Accounts) -> None:
    browser = as_person("ehs")
    assert browser.get("/api/v1/journal").status_code == 200
    accounts.disable("Erin Hygiene")
    assert browser.get("/api/v1/journal").status_code == 401


def test_a_new_secret_ends_the_old_sessions(as_person, accounts: Accounts) -> None:
    browser = as_person("ehs")
    accounts.set_secret(accounts.link("Erin Hygiene"), "an entirely other phrase")
    assert browser.get("/api/v1/journal").status_code == 401


def test_a_wrong_secret_says_nothing_about_who_is_known(client: TestClient, people) -> None:
    known = post_sign_in(client, name="Erin Hygiene", password="a wrong password this is")
    unknown = post_sign_in(client, name="Erin Nobody", password="a wrong password this is")
    assert known.status_code == unknown.status_code == 422
    assert known.text.count("This is not known here") == unknown.text.count("This is not known here") == 1


def test_trying_again_and_again_takes_longer_and_longer(client: TestClient, people, clock: TickClock) -> None:
    for _ in range(throttle.FREE["account"] + 1):
        assert post_sign_in(client, badge="badge-7", pin="000001").status_code == 422
    refused = post_sign_in(client, badge="badge-7", pin=PIN)  # not even the right one is looked at
    assert refused.status_code == 429 and int(refused.headers["Retry-After"]) == 15
    clock.set(clock.now() + 16 * SECOND)
    assert post_sign_in(client, badge="badge-7", pin="000001").status_code == 422
    refused = post_sign_in(client, badge="badge-7", pin=PIN)
    assert int(refused.headers["Retry-After"]) == 30
    clock.set(clock.now() + MINUTE)
    assert post_sign_in(client, badge="badge-7", pin=PIN).status_code == 303
    assert post_sign_in(client, badge="badge-7", pin="000001").status_code == 422  # and begins anew


def test_many_badges_from_one_address_are_throttled_too(accounts: Accounts, clock: TickClock) -> None:
    waits = [throttle.attempt(accounts, f"badge {number}", "10.0.0.9") for number in range(throttle.FREE["address"] + 2)]
    assert waits[:-1] == [0] * (throttle.FREE["address"] + 1) and waits[-1] > 0
    assert throttle.attempt(accounts, "badge x", "10.0.0.10") == 0


def test_an_address_forgets_with_time(accounts: Accounts, clock: TickClock) -> None:
    """A shop's screens may share an address: last month's typing mistakes don't keep anybody out today."""
    for number in range(throttle.FREE["address"] + 1):
        assert throttle.attempt(accounts, f"badge {number}", "10.0.0.9") == 0
    assert throttle.attempt(accounts, "badge x", "10.0.0.9") > 0
    clock.set(clock.now() + 2 * HOUR)
    for number in range(throttle.FREE["address"] // 2):
        assert throttle.attempt(accounts, f"badge {number + 100}", "10.0.0.9") == 0


def test_whoever_gets_in_after_all_leaves_no_mark_on_the_address(accounts: Accounts, clock: TickClock) -> None:
    """One mistake and then the right PIN, by forty people within the hour."""
    for number in range(40):
        clock.set(clock.now() + MINUTE)
        for _ in range(2):
            assert throttle.attempt(accounts, f"badge {number}", "10.0.0.9") == 0
        throttle.succeeded(accounts, f"badge {number}", "10.0.0.9")


def test_getting_in_forgives_nobody_elses_attempts(accounts: Accounts, clock: TickClock) -> None:
    """Else whoever has an account could go on trying those of others for as long as they like."""
    for number in range(throttle.FREE["address"]):
        assert throttle.attempt(accounts, f"badge {number}", "10.0.0.9") == 0
    assert throttle.attempt(accounts, "badge own", "10.0.0.9") == 0
    throttle.succeeded(accounts, "badge own", "10.0.0.9")
    assert throttle.attempt(accounts, "badge a", "10.0.0.9") == 0
    assert throttle.attempt(accounts, "badge b", "10.0.0.9") > 0


def test_a_hundred_failures_need_a_new_link(people, accounts: Accounts, clock: TickClock) -> None:
    """NIST SP 800-63B: no more than 100 consecutive failed attempts on one account."""
    allowed = 0
    for day in range(400):
        clock.set(START + day * 24 * HOUR)
        allowed += throttle.attempt(accounts, "badge badge-7", f"10.0.0.{day % 200}") == 0
    assert allowed == 100
    accounts.link(people["painter"].id)
    assert throttle.attempt(accounts, "badge badge-7", "10.0.1.1") == 0


def test_sign_in_goes_on_to_a_path_of_the_board_only(client: TestClient, people) -> None:
    """Open redirect (CWE-601)."""
    for wanted, target in [
        ("/records?van=4102", "/records?van=4102"),
        ("https://elsewhere.example/", "/"),
        ("//elsewhere.example/", "/"),
        ("/\\elsewhere.example/", "/"),
        ("javascript:alert(1)", "/"),
        ("/a\r\nSet-Cookie: x=y", "/"),
    ]:
        browser = TestClient(client.app, base_url=ADDRESS, follow_redirects=False)
        answer = post_sign_in(browser, name="Erin Hygiene", password=PASSWORD, next=wanted)
        assert answer.status_code == 303 and answer.headers["location"] == target
