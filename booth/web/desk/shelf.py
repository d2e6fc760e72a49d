"""A small store of things that cost something to make."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any, TypeVar

Made = TypeVar("Made")


class Shelf:
    """The last few things made, by what they were made from; the oldest goes first."""

    def __init__(self, size: int) -> None:
        self._size, self._made = size, OrderedDict[Hashable, Any]()
        self._lock = threading.Lock()

    def get(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """What was made for this key, or made now. Two threads may both make it; that wastes time and harms nothing."""
        with self._lock:
            if key in self._made:
                self._made.move_to_end(key)
                return self._made[key]
        made = make()
        with self._lock:
            self._made[key] = made
            while len(self._made) > self._size:
                self._made.popitem(last=False)
        return made
