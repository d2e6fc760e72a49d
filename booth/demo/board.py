"""The board beside the demonstration: on a free port, following the simulated shift by its own time."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from booth.shop.board import Board as Settings
from booth.shop.shop import Shop
from booth.store import Store
from booth.web.process import boarding
from booth.web.serving import listening


@contextmanager
def demo_board(shop: Shop, out: Path) -> Iterator[Settings]:
    """A board over the demonstration's store, which needn't hold anything yet; its settings, once it has a port of its own."""
    Store.open(out / "store", create=True).close()
    settings = shop.site.board.model_copy(update={"host": "127.0.0.1", "port": _port(shop.site.board.port)})
    with boarding(shop, out / "store", settings, ticks=True, outlives=False):
        yield settings


def _port(wanted: int) -> int:
    """The configured one, or where that is taken any other."""
    for port in (wanted, 0):
        try:
            with listening("127.0.0.1", port) as probe:
                return probe.getsockname()[1]
        except OSError:
            continue
    raise OSError("no port is free on 127.0.0.1")
