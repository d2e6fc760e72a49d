"""The read API holds what its OpenAPI description says (schemathesis), and lets nobody in without a token or a session."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from urllib.parse import quote

import jsonschema_rs
import pytest
import schemathesis
from hypothesis import HealthCheck, settings
from starlette.applications import Starlette

from booth.overview import build_status
from booth.store import Store
from booth.store.journal import Journal
from booth.web.api import api_calls
from booth.web.api.api_calls import CALLS
from booth.web.api.api_description import description
from booth.web.app import create_app
from booth.web.people import api_tokens
from tests.app.plants import VAN
from tests.web.conftest import ADDRESS, TestClient, bare_board

FEW = settings(max_examples=20, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck))


class Door:
    """The application of the test that runs; schemathesis wants one before there is any."""

    app: Starlette

    async def __call__(self, scope, receive, send) -> None:
        await self.app(scope, receive, send)


DOOR = Door()
schema = schemathesis.openapi.from_dict(description())
schema.app = DOOR


@pytest.fixture(scope="module")
def token(played_store, tmp_path_factory) -> str:
    """One application for every made-up call, and a token for it."""
    board = bare_board(shutil.copytree(played_store, tmp_path_factory.mktemp("api") / "store"))
    DOOR.app = create_app(board, follow=False)
    return api_tokens.make(board.accounts, "the accountants' program", "Ada Admin")


@pytest.fixture
def program(client: TestClient, accounts) -> TestClient:
    client.headers["Authorization"] = f"Bearer {api_tokens.make(accounts, 'a program', 'Ada Admin')}"
    return client


@schema.parametrize()
@FEW
def test_every_call_does_what_its_description_says(case, token: str) -> None:
    case.call_and_validate(base_url=ADDRESS, headers={"Authorization": f"Bearer {token}"})


def test_the_description_is_served_and_its_schemas_are_schemas(program: TestClient) -> None:
    found = program.get("/api/openapi.json").json()
    assert found == description() and found["openapi"].startswith("3.1.")
    for call in CALLS:
        assert jsonschema_rs.meta.is_valid(call.answer)


def test_a_record_is_the_one_of_the_contract(program: TestClient, store_folder) -> None:
    found = program.get(f"/api/v1/vehicles/{VAN}").json()
    assert found["vehicle"] == VAN and found["journal"]["verified"] is True
    with Store.open(store_folder) as store:
        assert found["journal"]["head"] == store.journal.head().hash


def test_vans_are_found_and_paged(program: TestClient) -> None:
    everything = program.get("/api/v1/vehicles").json()
    assert [one["vehicle"] for one in everything["vehicles"]] == [VAN] and everything["total"] == 1
    lot = everything["vehicles"][0]["lots"][0]
    for query in (f"van={VAN[-4:]}", f"lot={quote(lot)}", "booth=south", "from=2026-07-13T00:00:00Z"):
        assert program.get(f"/api/v1/vehicles?{query}").json()["total"] == 1, query
    for query in ("van=nobody-has-it", "lot=none-of-these", "booth=north", "to=2026-07-01T00:00:00Z"):
        assert program.get(f"/api/v1/vehicles?{query}").json()["total"] == 0, query
    beyond = program.get("/api/v1/vehicles?offset=1").json()
    assert beyond["total"] == 1 and beyond["vehicles"] == []


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ("limit=0", "limit: '0' is not a whole number from 1 to 500"),
        ("limit=1&limit=2", "'limit' can't be given twice"),
        ("colour=red", "'colour' can't be given; known parameters: van, lot"),
        ("verdict=fine", "verdict: 'fine' is not one of met, missed, unproven"),
        ("from=yesterday", "from: 'yesterday'"),
    ],
)
def test_a_wrong_question_is_told_what_is_expected(program: TestClient, query: str, says: str) -> None:
    answer = program.get(f"/api/v1/vehicles?{query}")
    assert answer.status_code == 422 and says in answer.json()["detail"]


def test_what_has_not_changed_is_not_sent_again(program: TestClient) -> None:
    first = program.get("/api/v1/journal")
    again = program.get("/api/v1/journal", headers={"If-None-Match": first.headers["ETag"]})
    assert first.status_code == 200 and again.status_code == 304 and again.content == b""


def test_a_revoked_token_opens_nothing(program: TestClient, accounts) -> None:
    assert program.get("/api/v1/booths").status_code == 200
    api_tokens.revoke(accounts, api_tokens.every(accounts)[0].id)
    answer = program.get("/api/v1/booths")
    assert answer.status_code == 401 and answer.headers["WWW-Authenticate"].startswith("Bearer")


def test_a_token_reads_the_api_and_nothing_else(program: TestClient) -> None:
    assert program.get("/accounts").status_code == 303
    assert program.post("/api/v1/booths").status_code == 405


def test_a_token_is_kept_as_a_hash_only(accounts, store_folder) -> None:
    token = api_tokens.make(accounts, "a program", "Ada Admin")
    kept = b"".join(path.read_bytes() for path in store_folder.glob("accounts.sqlite*"))
    assert token.encode() not in kept and token.removeprefix(api_tokens.PREFIX).encode() not in kept


def test_who_is_signed_in_may_read_it_too(as_person: Callable[[str | None], TestClient]) -> None:
    assert as_person("painter").get("/api/v1/alarms").status_code == 200
    assert as_person(None).get("/api/v1/alarms").status_code == 401


def test_nobody_waits_while_a_record_is_made(program: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """Judging a job and verifying the journal take long after some years; the desk's one lock is free meanwhile."""
    free = []
    for name in ("judge_in", "build_record", "booths_and_jobs"):
        monkeypatch.setattr(api_calls, name, while_asking(program, getattr(api_calls, name), free))
    for path in (f"/api/v1/vehicles/{VAN}", "/api/v1/booths"):
        assert program.get(path).status_code == 200
    assert free == [True] * 3


def while_asking(program: TestClient, real: Callable, free: list[bool]) -> Callable:
    """The same, and meanwhile another thread tries the lock of the desk's memory."""

    def tried() -> bool:
        lock = program.app.state.desk.memory._lock
        got = lock.acquire(blocking=False)
        if got:
            lock.release()
        return got

    def made(*facts, **named):
        with ThreadPoolExecutor(1) as pool:
            free.append(pool.submit(tried).result())
        return real(*facts, **named)

    return made


def test_booths_and_alarms_are_read_without_the_whole_journal(
    program: TestClient, monkeypatch: pytest.MonkeyPatch, store_folder
) -> None:
    """The second call reads what was appended since the first; `booth status`, which reads all, says the same."""
    program.get("/api/v1/booths")
    asked = []
    real = Journal.entries

    def entries(self: Journal, *facts, **named):
        asked.append((facts, named))
        return real(self, *facts, **named)

    monkeypatch.setattr(Journal, "entries", entries)
    moment = program.app.state.board.live.now()
    found = program.get("/api/v1/alarms").json()
    program.get("/api/v1/booths")
    through_all = [one for one in asked if one == ((), {}) or one == ((), {"kinds": ["alarm"]})]
    assert through_all == []
    with Store.open(store_folder) as store:
        assert found["alarms"] == build_status(program.app.state.board.shop, store, moment)["alarms"]


@pytest.mark.parametrize("path", ["/api/v1/alarms", "/api/v1/booths", "/api/v1/booths/south"])
def test_what_tells_of_the_air_carries_the_cautions(program: TestClient, board, path: str) -> None:
    assert program.get(path).json()["cautions"] == list(board.shop.cautions) != []


def test_a_list_says_that_its_verdicts_are_as_issued() -> None:
    listed = description()["paths"]["/api/v1/vehicles"]["get"]
    shown = listed["responses"]["200"]["content"]["application/json"]["schema"]["properties"]["vehicles"]["items"]
    assert "as issued" in listed["summary"] and shown["properties"]["verdict"]["description"].startswith("As issued")
