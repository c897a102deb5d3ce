"""How far publishing is behind, by a clock that nobody sets: this process's own."""

from __future__ import annotations

import threading
import time
from collections import deque

from sqlalchemy.engine import Connection

from bailee.store import tree
from bailee.store.tree import Extent


class Lag:
    """What was recorded at each look and is not published yet, the oldest first."""

    def __init__(self) -> None:
        self._open: deque[tuple[float, Extent]] = deque()
        self._lock = threading.Lock()

    def look(self, connection: Connection, published: int) -> None:
        """Note what is recorded now and what of it the first `published` entries cover. Once in every round."""
        with self._lock:
            while self._open and tree.is_under(connection, self._open[0][1], published):
                self._open.popleft()
            now = tree.extent(connection)
            newest = self._open[-1][1] if self._open else None
            if now != newest and not tree.is_under(connection, now, published):
                self._open.append((time.monotonic(), now))

    @property
    def seconds(self) -> float:
        """Since when the oldest of it has been here, to the round; 0 when all is published. Grows when nobody looks any more."""
        with self._lock:
            return time.monotonic() - self._open[0][0] if self._open else 0.0
