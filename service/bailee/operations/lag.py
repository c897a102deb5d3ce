"""How far publishing is behind, by a clock that nobody sets: this process's own."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable

from sqlalchemy.engine import Connection

from bailee.store import tree
from bailee.store.tree import Extent


class Lag:
    """What was recorded at each look and is not published yet, the oldest first."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._open: deque[tuple[float, Extent]] = deque()
        self._lock = threading.Lock()

    def look(self, connection: Connection, published: int) -> None:
        """Note what is recorded now and what of it the first `published` entries cover. Once in every round."""
        with self._lock:
            before = [extent for _, extent in self._open]
        done = 0  # asked without the lock: whoever wants to know the seconds must not wait for the database
        while done < len(before) and tree.is_under(connection, before[done], published):
            done += 1
        now = tree.extent(connection)
        newest = before[-1] if done < len(before) else None
        is_new = now != newest and not tree.is_under(connection, now, published)
        with self._lock:
            for _ in range(done):
                self._open.popleft()
            if is_new:
                self._open.append((self._clock(), now))

    @property
    def seconds(self) -> float:
        """Since when the oldest of it has been here, to the round; 0 when all is published. Grows when nobody looks any more."""
        with self._lock:
            return self._clock() - self._open[0][0] if self._open else 0.0
