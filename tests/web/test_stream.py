"""Server-sent events: one drawing for all screens that are alike, a message for each snapshot, an end when the board ends."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path
from types import SimpleNamespace

import pytest

from booth.web.board import Board
from booth.web.painter.live import Live
from booth.web.painter.stream import Renderings, messages
from booth.web.people.accounts import Accounts
from tests.app.plants import demo_shop
from tests.web.booth_scenes import SCENES, made

WANTED = ("south", "en", "SI", False, False, "")


@pytest.fixture
def board(tmp_path: Path):
    """A board whose eyes look by hand: nothing happens but what the test does."""
    clock = made(tmp_path, SCENES["missed"])
    shop = demo_shop()
    made_board = Board(shop, tmp_path, Accounts(tmp_path), shop.site.board, clock)
    made_board.live = Live(made_board)
    made_board.live.start()
    assert made_board.live.wait_first(30)
    made_board.live.stop()
    made_board.live._stopping.clear()  # the thread has ended; what it saw stays
    return made_board


def again(live: Live) -> None:
    """As if the thread had looked once more."""
    live.version += 1
    live._wake()


def request() -> SimpleNamespace:
    return SimpleNamespace(app=SimpleNamespace(state=SimpleNamespace()))


def html_of(message: bytes) -> str:
    assert message.startswith(b"data: ") and message.endswith(b"\n\n") and message.count(b"\n") == 2
    return json.loads(message[6:])["html"]


def test_the_first_message_comes_at_once_and_then_one_for_each_snapshot(board: Board) -> None:
    async def listen() -> list[bytes]:
        heard = []
        stream = messages(request(), board, WANTED, None)
        heard.append(await anext(stream))
        again(board.live)
        heard.append(await anext(stream))
        board.live._stopping.set()
        board.live._wake()
        heard += [one async for one in stream]
        return heard

    first, second, *rest = asyncio.run(listen())
    assert "Bake start missed" in html_of(first) and html_of(first) == html_of(second)
    assert rest == []


def test_twenty_screens_alike_are_drawn_once(board: Board, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = []
    from booth.web.painter import stream as module

    real = module.live_part
    monkeypatch.setattr(module, "live_part", lambda *facts: drawn.append(facts) or real(*facts))

    async def listen() -> None:
        shared = request()
        streams = [messages(shared, board, WANTED, None) for _ in range(20)]
        first = [await anext(one) for one in streams]
        again(board.live)
        second = [await anext(one) for one in streams]
        assert len(set(first)) == len(set(second)) == 1
        for one in streams:
            await one.aclose()

    asyncio.run(listen())
    assert len(drawn) == 2
    assert board.live._listeners == set()


def test_screens_that_differ_are_drawn_apart(board: Board) -> None:
    drawings = Renderings()
    english = html_of(drawings.of(board, WANTED, None))
    french = html_of(drawings.of(board, ("south", "fr", "US", False, False, ""), None))
    assert "Bake start missed" in english and "Début de cuisson" in french
    assert "°F" in french and "°F" not in english


def test_nothing_personal_is_in_what_is_shared(board: Board) -> None:
    text = html_of(Renderings().of(board, ("south", "en", "SI", True, True, ""), SimpleNamespace(role="painter")))
    assert "csrf" not in text and "badge-17" not in text and 'form="acts"' in text
