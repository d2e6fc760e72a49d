"""Accounts: no default password, one-time links, hashes only, and a file that nobody else reads."""

from __future__ import annotations

import json
import stat
from pathlib import Path

import pytest

from booth.clocks import TickClock
from booth.times import HOUR
from booth.web.people.accounts import LINK_US, AccountError, Accounts
from booth.web.people.secrets_of_people import SecretError, matches
from tests.cli.commands import booth
from tests.web.conftest import PASSWORD, PIN, TestClient, csrf_of

CONFIG = Path(__file__).parents[2] / "config"


@pytest.fixture
def clock() -> TickClock:
    return TickClock(1_800_000_000_000_000)


@pytest.fixture
def book(tmp_path: Path, clock: TickClock) -> Accounts:
    return Accounts(tmp_path, clock)


def test_only_its_owner_reads_the_file(book: Accounts) -> None:
    assert stat.S_IMODE(book.file.path.stat().st_mode) == 0o600


def test_nothing_is_there_at_first_and_a_link_makes_the_first_admin(book: Accounts) -> None:
    assert book.all() == [] and book.needs_first()
    token = book.link(None)
    made = book.set_secret(token, PASSWORD, "Ada Admin")
    assert made.admin and made.role == "supervisor" and not book.needs_first()
    assert book.verified("ada admin", PASSWORD, by_badge=False).id == made.id


def test_a_link_is_good_once_and_for_a_day(book: Accounts, clock: TickClock) -> None:
    used = book.link(None)
    book.set_secret(used, PASSWORD, "Ada Admin")
    with pytest.raises(AccountError, match="has been used, or is too old"):
        book.set_secret(used, PASSWORD, "Eve")
    late = book.link("Ada Admin")
    clock.set(clock.now() + LINK_US)
    assert book.followed(late) is None


def test_a_newer_link_voids_the_older(book: Accounts) -> None:
    older, newer = book.link(None), book.link(None)
    assert book.followed(older) is None and book.followed(newer) is not None


def test_secrets_and_links_are_kept_as_hashes(book: Accounts, tmp_path: Path) -> None:
    token = book.link(None)
    account = book.set_secret(token, PASSWORD, "Ada Admin")
    kept = book.find(account.id).secret
    # RFC 9106, section 4: argon2id; the second recommended option has 3 passes over 64 MiB in 4 lanes
    assert kept.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    open_link = book.link("Ada Admin")
    data = b"".join(path.read_bytes() for path in tmp_path.iterdir())
    assert PASSWORD.encode() not in data and open_link.encode() not in data


@pytest.mark.parametrize(
    ("password", "says"),
    [
        ("short of fifteen"[:14], "15 to 256 characters"),
        ("a" * 257, "15 to 256 characters"),
        ("abababababababab", "easy to guess"),
        ("ada admin is the name", "leave out your name"),
    ],
)
def test_a_weak_password_is_told_why(book: Accounts, password: str, says: str) -> None:
    """Length decides (NIST SP 800-63B-4: at least 15 characters where a password stands alone, at least 64 taken)."""
    with pytest.raises(SecretError, match=says):
        book.set_secret(book.link(None), password, "Ada Admin")
    assert book.all() == []


@pytest.mark.parametrize("password", ["correcthorsebattery", "пароль из пяти слов", "grüne Grundierung im Eimer", "x y" * 21])
def test_no_rule_of_composition(book: Accounts, password: str) -> None:
    if len(set(password)) < 5:
        password += " and some more"
    book.set_secret(book.link(None), password, "Ada Admin")
    assert book.verified("Ada Admin", password, by_badge=False)


def test_an_accent_typed_either_way_is_the_same_password(book: Accounts) -> None:
    book.set_secret(book.link(None), "grüne Grundierung im Eimer", "Ada Admin")
    assert book.verified("Ada Admin", "gru\u0308ne Grundierung im Eimer", by_badge=False)


@pytest.mark.parametrize("pin", ["12345", "123456", "987654", "777777", "13579a", "1" * 13, "٤٠٢٩١٧"])
def test_a_weak_pin_is_refused(book: Accounts, pin: str) -> None:
    painter = book.add("Painter Seven", "painter", "badge-7")
    with pytest.raises(SecretError):
        book.set_secret(book.link(painter.id), pin)


def test_a_painter_has_a_badge_and_a_pin_and_nobody_else_does(book: Accounts) -> None:
    painter = book.add("Painter Seven", "painter", "badge-7")
    book.set_secret(book.link(painter.id), PIN)
    assert book.verified("badge-7", PIN, by_badge=True) is not None
    assert book.verified("Painter Seven", PIN, by_badge=False) is None
    for role, badge, admin in (("painter", None, False), ("ehs", "badge-8", False), ("ehs", None, True), ("boss", None, False)):
        with pytest.raises(AccountError):
            book.add("Somebody", role, badge, admin)


def test_names_and_badges_are_not_taken_twice(book: Accounts) -> None:
    book.add("Painter Seven", "painter", "badge-7")
    for name, role, badge in (("painter seven", "ehs", None), ("badge-7", "ehs", None), ("Other", "painter", "badge-7")):
        with pytest.raises(AccountError, match="already"):
            book.add(name, role, badge)


def test_the_last_admin_cannot_be_disabled(book: Accounts) -> None:
    book.set_secret(book.link(None), PASSWORD, "Ada Admin")
    with pytest.raises(AccountError, match="only admin"):
        book.disable("Ada Admin")


def test_a_disabled_account_is_let_in_again_by_a_new_link(book: Accounts) -> None:
    book.set_secret(book.link(None), PASSWORD, "Ada Admin")
    erin = book.add("Erin Hygiene", "ehs")
    book.set_secret(book.link(erin.id), PASSWORD)
    assert book.disable("Erin Hygiene").id == erin.id
    assert book.verified("Erin Hygiene", PASSWORD, by_badge=False) is None
    book.set_secret(book.link(erin.id), "an entirely other phrase")
    assert book.verified("Erin Hygiene", "an entirely other phrase", by_badge=False) is not None


def test_somebody_who_is_not_there_matches_nothing() -> None:
    assert not matches(None, "nobody signs in with this")


def test_the_first_account_is_made_in_the_browser(client: TestClient, accounts: Accounts) -> None:
    where = f"/first/{accounts.link(None)}"
    page = client.get(where)
    form = {"csrf": csrf_of(page.text), "name": "Ada <b>Admin</b>", "secret": PASSWORD, "again": "not the same"}
    wrong = client.post(where, data=form)
    assert wrong.status_code == 422 and "not the same" in wrong.text and "<b>Admin" not in wrong.text
    done = client.post(where, data=form | {"again": PASSWORD})
    assert done.status_code == 303
    assert "Ada &lt;b&gt;Admin&lt;/b&gt;" in client.get("/accounts").text
    assert client.get(where).status_code == 404


def test_an_admin_adds_disables_and_makes_tokens_in_the_browser(as_person, accounts: Accounts, board) -> None:
    admin = as_person("admin")

    def send(**fields: str):
        return admin.post("/accounts", data={"csrf": csrf_of(admin.get("/accounts").text), **fields})

    added = send(do="add", name="New Painter", role="painter", badge="badge-8")
    assert added.status_code == 200 and "http://127.0.0.1:8484/first/" in added.text
    new = accounts.find("badge-8")
    assert send(do="disable", account=new.id).status_code == 303
    assert accounts.find("badge-8").disabled is not None
    assert "booth_" in send(do="token", name="a program").text
    assert send(do="add", name="No Badge", role="painter").status_code == 422
    assert send(do="anything").status_code == 422
    with board.store() as store:
        said = [(one.body["did"], one.private["by"]) for one in store.journal.entries(kinds=["account"])]
        about = [one.body["about"] for one in store.journal.entries(kinds=["account"])]
    assert said == [("add", "Ada Admin"), ("disable", "Ada Admin"), ("token", "Ada Admin")]
    assert about[:2] == [new.id, new.id]


def test_the_command_line_does_the_same_without_the_board(store_folder: Path) -> None:
    said = booth("account", "add", "Ada Admin", "--role", "supervisor", "--admin", "--json", config=CONFIG, store=store_folder)
    made = json.loads(said.out)
    assert said.code == 0 and made["link"].startswith("http://127.0.0.1:8484/first/")
    accounts = Accounts(store_folder)
    accounts.set_secret(made["link"].rpartition("/")[2], PASSWORD)
    listed = json.loads(booth("account", "list", "--json", config=CONFIG, store=store_folder).out)
    assert [(one["name"], one["state"]) for one in listed] == [("Ada Admin", "ready")]
    refused = booth("account", "disable", "Ada Admin", config=CONFIG, store=store_folder)
    assert refused.code == 2 and "only admin" in refused.err
    assert booth("account", "add", "Somebody", config=CONFIG, store=store_folder).code == 2
    assert booth("account", "list", config=CONFIG, store=store_folder.with_name("mistyped")).code == 2


def test_the_first_admin_link_lasts_a_day() -> None:
    assert LINK_US == 24 * HOUR
