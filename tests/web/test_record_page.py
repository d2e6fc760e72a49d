"""One van's record: what it shows, who may sign what, and what is refused in a sentence."""

from __future__ import annotations

import asyncio
import json
import threading
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace

import pytest
from anyio import to_thread
from pypdf import PdfReader
from starlette.concurrency import run_in_threadpool

from booth.store import Store
from booth.web.desk import record_page
from booth.web.desk.shared import Desk
from tests.app.plants import VAN, demo_shop
from tests.web.conftest import csrf_of

PAGE = f"/record/{VAN}"


def send(browser, page: str = PAGE, **fields: str):
    return browser.post(page, data={"csrf": csrf_of(browser.get(page).text)} | fields)


def entries(folder: Path, kind: str) -> list:
    with Store.open(folder) as store:
        return list(store.journal.entries(kinds=[kind]))


def test_it_tells_the_verdict_in_words_and_every_step(as_person) -> None:
    text = as_person("ehs").get(PAGE).text
    for word in (VAN, "Why", "Traces", "Findings", "Papers", "Documents", "sealer (coat, epoxy-sealer)", "America/Chicago"):
        assert word in text
    assert "Sign the concession" not in text and "Add the note" not in text


def test_a_note_is_kept_as_written_and_does_nothing(as_person, store_folder: Path) -> None:
    said = 'Läufer am Schweller <script>alert("x")</script> ‮gnirts‬ نهاية'
    answer = send(as_person("painter"), event="note", text=said)
    assert answer.status_code == 303
    (note,) = [one for one in entries(store_folder, "note") if one.channel == "board"]
    assert note.private["text"] == said and note.private["by"] == "badge-7"
    shown = as_person("supervisor").get(PAGE).text
    assert "&lt;script&gt;" in shown and "<script>alert" not in shown
    assert "[U+202E]gnirts" in shown  # what would turn the reading direction around is named, as documents do


def test_whoever_sprayed_it_can_not_sign_for_it(as_person, accounts, store_folder: Path) -> None:
    """A supervisor who took the gun: their badge is on the coat, and the refusal says so above the same page."""
    from tests.web.conftest import PASSWORD

    account = accounts.add("badge-22", "supervisor", None, False)
    accounts.set_secret(accounts.link(account.id), PASSWORD)
    browser = as_person(None)
    browser.post("/sign-in", data={"name": "badge-22", "password": PASSWORD, "csrf": csrf_of(browser.get("/sign-in").text)})
    assert "You had a hand in a coat of this van" in browser.get(PAGE).text
    for kind in ("release", "concession"):
        answer = send(browser, event=kind, reason="looks fine to me", requirement="bake/bake_start")
        assert answer.status_code == 422 and "badge-22 sprayed this van; it takes somebody else" in answer.text
        assert "looks fine to me" in answer.text or kind == "concession"  # what was typed isn't lost
    assert not entries(store_folder, "release") and not entries(store_folder, "concession")


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"event": "concession", "requirement": "bake/nothing", "reason": "x"}, "is not a requirement of"),
        ({"event": "concession", "requirement": "bake/bake_start", "reason": " "}, "concession needs a reason"),
        ({"event": "release", "reason": ""}, "release needs a reason"),
        ({"event": "reopen", "reason": ""}, "reopen needs a reason"),
        ({"event": "note", "text": " "}, "note needs a text"),
        ({"event": "step-start", "step": "clear-1"}, "is not something that this page takes"),
        ({"event": "correction", "corrects": "x", "fact": "time", "value": "late", "reason": "y"}, "is not a date and time"),
        ({"event": "correction", "corrects": "x", "fact": "limit", "value": "1", "reason": "y"}, "is not a fact that this form"),
        ({"event": "correction", "corrects": "x", "fact": "step", "value": "bake", "reason": "y"}, "is not the id"),
        ({"event": "correction", "corrects": "x", "fact": "lots", "value": "H", "reason": "y"}, "is not component=number"),
    ],
)
def test_what_is_refused_is_said_in_a_sentence(as_person, fields: dict, sentence: str) -> None:
    answer = send(as_person("supervisor"), **fields)
    assert answer.status_code == 422 and sentence in answer.text and VAN in answer.text


def test_a_correction_shows_at_once(as_person, store_folder: Path) -> None:
    film = entries(store_folder, "film")[0]
    browser = as_person("supervisor")
    fields = {"event": "correction", "corrects": film.id, "fact": "value", "value": "88 um", "reason": "read the wrong line"}
    assert send(browser, **fields).status_code == 303
    shown = browser.get(PAGE + "?done=correction").text
    assert "88 µm" in shown and "read the wrong line" in shown and "The correction is in the journal" in shown


def test_another_round_is_open_at_once(as_person) -> None:
    browser = as_person("supervisor")
    assert send(browser, event="reopen", reason="dieback on the roof").status_code == 303
    assert "Findings, round 2" in browser.get(PAGE).text


def test_the_same_form_sent_twice_is_one_entry(as_person, store_folder: Path) -> None:
    browser, identity = as_person("supervisor"), "6f1c1e0e-5d0a-4c56-8a6f-6a1f0d0b7c11"
    for _ in range(2):
        assert send(browser, event="release", reason="inspected", id=identity).status_code == 303
    assert len(entries(store_folder, "release")) == 1


@pytest.mark.parametrize("role", ["ehs", "maintenance"])
def test_other_roles_read_and_do_not_write(as_person, role: str) -> None:
    browser = as_person(role)
    assert browser.get(PAGE).status_code == 200
    assert browser.post(PAGE, data={"csrf": csrf_of(browser.get(PAGE).text), "event": "note", "text": "x"}).status_code == 403


def test_a_painter_can_not_decide(as_person, store_folder: Path) -> None:
    assert send(as_person("painter"), event="release", reason="fine").status_code == 403
    assert not entries(store_folder, "release")


def test_every_document_stands_by_itself(as_person) -> None:
    browser = as_person("ehs")
    answers = {form: browser.get(f"{PAGE}/document.{form}") for form in ("pdf", "html", "json", "csv")}
    assert all(one.status_code == 200 and "attachment" in one.headers["content-disposition"] for one in answers.values())
    assert VAN in PdfReader(BytesIO(answers["pdf"].content)).pages[0].extract_text()
    assert json.loads(answers["json"].content)["journal"]["verified"] is True
    assert VAN in answers["html"].text and VAN in answers["csv"].text
    assert browser.get(f"{PAGE}/document.exe").status_code == 404


def test_a_van_that_nobody_opened_is_said(as_person) -> None:
    answer = as_person("supervisor").get("/record/TV-0000")
    assert answer.status_code == 404 and "no job was opened for" in answer.text


def test_traces_are_asked_for_by_the_second(as_person) -> None:
    browser = as_person("ehs")
    whole = browser.get(f"{PAGE}/traces.json").json()["whole"]
    asked = browser.get(f"{PAGE}/traces.json", params={"from": whole[0] + 600, "to": whole[0] + 720, "columns": 600}).json()
    assert asked["shown"] == [pytest.approx(whole[0] + 600), pytest.approx(whole[0] + 720)]
    assert all(line["raw"] for panel in asked["panels"] for line in panel["lines"])
    for wrong in ("soon", "nan", "inf", "1e400"):
        assert browser.get(f"{PAGE}/traces.json", params={"from": wrong}).status_code == 422
    assert browser.get(f"{PAGE}/traces.json", params={"columns": "٣"}).status_code == 200


def test_many_pdfs_keep_no_other_page_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ten are asked for where three threads make all pages: two of them are set, and there is a thread left."""
    begun, may_end = [], threading.Event()

    def typeset(board, vehicle: str, form: str) -> bytes:
        begun.append(vehicle)
        may_end.wait(60)
        return b"%PDF"

    async def ask() -> list[int]:
        to_thread.current_default_thread_limiter().total_tokens = 3
        state = SimpleNamespace(board=None, desk=Desk(demo_shop()))
        request = SimpleNamespace(path_params={"vehicle": VAN, "form": "pdf"}, app=SimpleNamespace(state=state))
        waiting = [asyncio.create_task(record_page.record_document(request)) for _ in range(10)]
        while len(begun) < 2:
            await asyncio.sleep(0.01)
        try:
            assert await asyncio.wait_for(run_in_threadpool(lambda: "another page"), 20) == "another page"
        finally:
            may_end.set()
        return [answer.status_code for answer in await asyncio.gather(*waiting)]

    monkeypatch.setattr(record_page, "_document", typeset)
    assert asyncio.run(ask()) == [200] * 10
