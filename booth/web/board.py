"""What every page is given: the shop, its store, who may sign in, and the clock."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from booth.clocks import Clock, SystemClock
from booth.intake import newest_config
from booth.overview import newest_moment
from booth.shop.board import Board as Settings
from booth.shop.shop import Shop
from booth.store import Store

if TYPE_CHECKING:
    from booth.web.people.accounts import Accounts

OUTDATED = "The shop's configuration has been changed since this board was started: start it again (booth run or booth board)."


@dataclass
class Board:
    """One site's board. `live` follows the store while the application runs, and is None outside of that."""

    shop: Shop
    directory: Path
    accounts: Accounts
    settings: Settings
    clock: Clock = field(default_factory=SystemClock)
    live: Any | None = None

    @contextmanager
    def store(self) -> Iterator[Store]:
        """The store, for reading and for entries into its journal; for the thread that asks."""
        with Store.open(self.directory) as store:
            yield store

    def now(self) -> int:
        """The logger's clock (microseconds UTC). A plant that runs by a clock of its own is followed by what it has sent."""
        if self.live is not None:
            return self.live.now()
        with self.store() as store:
            return self.moment(store)

    def moment(self, store: Store) -> int:
        """The same out of a store that is open already: never before the newest thing in it."""
        return max(self.clock.now(), newest_moment(store))

    def is_outdated(self, store: Store) -> bool:
        """Does the journal go on under another configuration than this board's? What it would write was judged by old limits."""
        return newest_config(store) not in (None, self.shop.sha256)
