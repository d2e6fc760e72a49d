"""What a hostile client, page, name or path can't do."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable
from html.parser import HTMLParser

import pytest

from booth.shop.board import Board as Settings
from booth.shop.problems import ConfigError
from booth.web import guard
from booth.web.all_pages import ALL_PAGES
from booth.web.app import create_app
from booth.web.pages import ANYBODY, Page
from booth.web.people import throttle
from booth.web.render import environment, render
from booth.web.serving import address, check, served
from tests.web.conftest import ADDRESS, PASSWORD, TestClient, csrf_of

HEADERS = {
    "content-security-policy",
    "x-content-type-options",
    "x-frame-options",
    "referrer-policy",
    "permissions-policy",
    "cross-origin-opener-policy",
    "cross-origin-resource-policy",
    "cache-control",
}
HOSTILE = "\"><script>alert(1)</script><img src=x onerror=alert(2)>' {{3331*3331}} ${3331*3331} \u202e"


class Elements(HTMLParser):
    """Every element and attribute of a page, as a browser would make them."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str | None]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(tag, name, value) for name, value in attrs]


@pytest.mark.parametrize("path", ["/sign-in", "/health", "/nowhere", "/records", "/api/v1/journal", "/static/x/base.css"])
def test_every_answer_carries_the_headers(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert set(answer.headers) >= HEADERS
    policy = dict(part.split(" ", 1) for part in answer.headers["content-security-policy"].split("; "))
    assert policy["default-src"] == policy["frame-ancestors"] == policy["base-uri"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["form-action"] == "'self'"
    assert "unsafe" not in answer.headers["content-security-policy"]
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "strict-transport-security" not in answer.headers  # over plain HTTP it means nothing


def test_behind_tls_browsers_are_told_to_stay_there(board) -> None:
    board.settings = Settings(behind_proxy="10.0.4.2", host="10.0.4.3", allowed_hosts=("board.shop.lan",))
    browser = TestClient(create_app(board, follow=False), base_url="https://board.shop.lan")
    assert "max-age" in browser.get("/health").headers["strict-transport-security"]


def test_a_mistake_of_ours_is_a_plain_page_with_all_headers(board) -> None:
    async def broken(_request):
        raise RuntimeError("a secret in a traceback")

    app = create_app(board, (Page("/broken", "broken", broken, roles=ANYBODY),), follow=False)
    answer = TestClient(app, base_url=ADDRESS, raise_server_exceptions=False).get("/broken")
    assert answer.status_code == 500 and "secret" not in answer.text and "Traceback" not in answer.text
    assert set(answer.headers) >= HEADERS - {"cache-control"}


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "", "evil.example:8484", "127.0.0.1@evil.example"])
def test_another_host_is_not_answered(client: TestClient, host: str) -> None:
    """DNS rebinding: a page of another site that resolves its own name to our address."""
    assert client.get("/sign-in", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.1:8484", "localhost:8484", "[::1]:8484"])
def test_loopback_is_answered_by_every_name(client: TestClient, host: str) -> None:
    assert client.get("/sign-in", headers={"host": host}).status_code == 200


def test_a_form_without_its_token_is_refused_on_every_page(as_person: Callable[[str | None], TestClient]) -> None:
    """CSRF, OWASP ASVS 4.0.3 requirement 4.2.2."""
    admin = as_person("admin")
    sent = [page for page in ALL_PAGES if page.methods == ("POST",)]
    assert sent
    for page in sent:
        path = page.path.replace("{booth}", "south").replace("{vehicle}", "TV-4102").replace("{token}", "x")
        for fields in ({}, {"csrf": ""}, {"csrf": "0" * 64}):
            assert admin.post(path, data=fields).status_code == 403, page.name


def test_the_token_of_one_person_is_not_good_for_another(as_person: Callable[[str | None], TestClient]) -> None:
    ours = csrf_of(as_person("ehs").get("/sign-in").text)
    assert as_person("admin").post("/sign-out", data={"csrf": ours}).status_code == 403


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://evil.example"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Origin": "http://127.0.0.1:8484.evil.example"},
    ],
)
def test_a_form_from_elsewhere_is_refused_even_with_its_token(as_person, headers: dict[str, str]) -> None:
    admin = as_person("admin")
    fields = {"csrf": csrf_of(admin.get("/accounts").text), "do": "token", "name": "x"}
    assert admin.post("/accounts", data=fields, headers=headers).status_code == 403
    assert admin.post("/accounts", data=fields, headers={"Origin": ADDRESS, "Sec-Fetch-Site": "same-origin"}).status_code == 200


@pytest.mark.parametrize(
    "path",
    [
        "/static/x/..%2f..%2fapp.py",
        "/static/x/%2e%2e%2f%2e%2e%2faccounts.py",
        "/static/../accounts.py",
        "/static/x/....//app.py",
        "/static/x/%2fetc%2fpasswd",
        "/static/x/base.css%00.js",
        "/static/..%2f..%2f..%2f/base.css/../app.py",
    ],
)
def test_no_path_leads_out_of_the_static_files(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 404 and "import" not in answer.text


def test_no_document_is_a_path(as_person: Callable[[str | None], TestClient]) -> None:
    browser = as_person("supervisor")
    for form in ("pdf%2f..%2f..", "../../accounts.sqlite", "exe", "%2e%2e"):
        assert browser.get(f"/record/TV-4102/document.{form}").status_code in (404, 422), form
    for van in ("..%2f..%2faccounts.sqlite", "%2e%2e", "TV-4102%00"):
        assert browser.get(f"/record/{van}").status_code == 404, van


def test_static_files_may_be_kept_for_ever_under_their_contents_name(client: TestClient) -> None:
    page = client.get("/sign-in").text
    path = page.partition('rel="stylesheet" href="')[2].partition('"')[0]
    answer = client.get(path)
    assert answer.status_code == 200 and "immutable" in answer.headers["cache-control"]
    assert answer.headers["content-type"].startswith("text/css")
    again = client.get("/static/other/base.css", headers={"If-None-Match": answer.headers["etag"]})
    assert again.status_code == 304 and "immutable" not in again.headers["cache-control"]


def test_too_much_is_refused_by_its_length_and_while_it_comes(client: TestClient) -> None:
    fields = {"csrf": csrf_of(client.get("/sign-in").text), "name": "x" * 5000}
    assert client.post("/sign-in", data=fields).status_code == 413

    def chunks():
        for _ in range(1000):
            yield b"x" * 1000

    headers = {"content-type": "application/x-www-form-urlencoded"}
    assert client.post("/sign-in", content=chunks(), headers=headers).status_code == 413
    assert client.post("/sign-in", content=b"x", headers=headers | {"content-length": "-1"}).status_code == 413


def test_a_body_that_does_not_come_is_given_up(monkeypatch: pytest.MonkeyPatch, board_app) -> None:
    monkeypatch.setattr(guard, "BODY_S", 0.05)
    sent: list[dict] = []

    async def receive():
        await asyncio.sleep(3600)

    async def send(message):
        sent.append(message)

    scope = {
        **{"type": "http", "method": "POST", "path": "/sign-in", "raw_path": b"/sign-in", "query_string": b"", "scheme": "http"},
        **{"headers": [(b"host", b"127.0.0.1"), (b"content-length", b"100")], "client": ("10.0.0.1", 1), "http_version": "1.1"},
        **{"server": ("127.0.0.1", 8484), "root_path": "", "asgi": {"version": "3.0"}, "state": {}},
    }
    asyncio.run(board_app(scope, receive, send))
    assert sent[0]["status"] == 408


def test_files_cannot_be_uploaded(client: TestClient) -> None:
    answer = client.post("/sign-in", files={"name": ("a.txt", b"x")})
    assert answer.status_code in (400, 403)


def test_hostile_text_is_text(as_person: Callable[[str | None], TestClient], accounts) -> None:
    printable = HOSTILE.replace("\u202e", "").strip()
    accounts.add(f"name {printable}", "ehs")
    accounts.add("A Painter", "painter", f"badge {printable}")
    pages = [as_person("admin").get("/accounts").text]
    browser = as_person(None)
    pages.append(browser.get("/sign-in", params={"next": "/" + HOSTILE}).text)
    pages.append(browser.get("/nowhere/" + HOSTILE).text)
    fields = {"csrf": csrf_of(browser.get("/sign-in").text), "name": HOSTILE, "password": PASSWORD, "next": HOSTILE}
    pages.append(browser.post("/sign-in", data=fields).text)
    for text in pages:
        found = Elements(text)
        assert "script" not in found.tags and "img" not in found.tags
        assert not any(name.startswith("on") or name == "style" for _, name, _ in found.attributes)
        assert str(3331 * 3331) not in text


def test_templates_have_no_script_or_style_of_their_own() -> None:
    """The content security policy would stop them; this says so before a browser does."""
    loader = environment().loader
    for name in loader.list_templates():
        source = loader.get_source(environment(), name)[0]
        found = Elements(re.sub(r"{[%{#].*?[#}%]}", "", source, flags=re.DOTALL))
        assert "style" not in found.tags, name
        for tag, attribute, value in found.attributes:
            assert not attribute.startswith("on") and attribute != "style", f"{name}: {tag} {attribute}"
            assert not (attribute in ("href", "src", "action") and (value or "").startswith(("http:", "https:", "//"))), name
        assert not re.search(r"(?<![\"'])\s*\|\s*safe", source), f"{name}: only a literal of ours needs no escaping"


def test_the_policy_of_templates_is_to_escape() -> None:
    assert environment().autoescape is True and render.__doc__


@pytest.mark.parametrize(
    ("settings", "says"),
    [
        ({"host": "0.0.0.0"}, "cert_file"),
        ({"host": "10.0.4.3"}, "behind_proxy"),
        ({"host": "0.0.0.0", "behind_proxy": "10.0.4.2"}, "allowed_hosts"),
        ({"host": "::", "cert_file": "a", "key_file": "b"}, "allowed_hosts"),
    ],
)
def test_it_is_not_shown_to_others_without_cover(settings: dict, says: str) -> None:
    with pytest.raises(ConfigError, match=says):
        check(Settings().model_copy(update=settings))
    with pytest.raises(ValueError, match="the board would listen"):
        Settings(**settings)


def test_a_certificate_that_is_not_there_is_named() -> None:
    with pytest.raises(ConfigError, match="board.cert_file"):
        check(Settings(cert_file="no-such-file.pem", key_file="no-such-file.key"))


def test_the_address_is_the_one_that_people_type() -> None:
    assert address(Settings()) == "http://127.0.0.1:8484"
    wide = Settings(host="0.0.0.0", cert_file="a", key_file="b", allowed_hosts=("board.shop.lan",))
    assert address(wide) == "https://board.shop.lan:8484"
    proxied = Settings(host="10.0.4.3", behind_proxy="10.0.4.2", allowed_hosts=("board.shop.lan",))
    assert address(proxied) == "https://board.shop.lan"


PROXIED = Settings(behind_proxy="10.0.4.2", host="10.0.4.3", allowed_hosts=("board.shop.lan",))


PEERS = [("10.0.4.2", 200), ("127.0.0.1", 200), ("::1", 200), ("10.0.4.77", 403), ("x", 403)]


@pytest.mark.parametrize(("peer", "status"), PEERS)
def test_past_its_proxy_nobody_is_answered(board, peer: str, status: int) -> None:
    """Whoever reaches the port itself would send a password without TLS (OWASP ASVS 4.0.3, 9.1.1, from memory)."""
    board.settings = PROXIED
    browser = TestClient(served(board), base_url="http://board.shop.lan", client=(peer, 50000))
    assert browser.get("/health", headers={"X-Forwarded-For": "10.0.4.2"}).status_code == status


def test_only_the_proxy_is_believed_who_is_asking(board) -> None:
    board.settings = PROXIED
    told: list[str] = []
    real = throttle.attempt

    def attempt(accounts, account: str, address: str) -> int:
        told.append(address)
        return real(accounts, account, address)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(throttle, "attempt", attempt)
        for peer in ("10.0.4.2", "127.0.0.1"):
            browser = TestClient(served(board), base_url="https://board.shop.lan", client=(peer, 50000))
            form = {"csrf": csrf_of(browser.get("/sign-in").text), "badge": "badge-7", "pin": "000001"}
            browser.post("/sign-in", data=form, headers={"X-Forwarded-For": "192.0.2.9"})
    assert told == ["192.0.2.9", "127.0.0.1"]


def test_no_name_stands_on_a_screen_at_the_wall(as_person: Callable[[str | None], TestClient]) -> None:
    """A painter signs in where everybody passes: whoever looks sees that somebody is, and not who."""
    painter, supervisor = as_person("painter"), as_person("supervisor")
    for path in ("/", "/sign-in", "/nowhere", "/booth/nowhere", "/booth/south"):
        assert "Painter Seven" not in painter.get(path).text, path
    assert "Signed in" in painter.get("/").text
    assert "Sam Supervisor" in supervisor.get("/records").text
