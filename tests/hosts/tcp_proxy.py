"""A network that a test can spoil: everything between a client and a server goes through here.

    with TcpProxy(("127.0.0.1", 5432)) as net:      # or TcpProxy(Path("/tmp/pg/.s.PGSQL.5432"))
        connect_to(net.host, net.port)
        net.black_hole()   # a partition: nothing arrives, nothing is refused, new connections get no answer
        net.forward()      # healed: what was held back arrives now
        net.cut()          # every connection is reset, and new ones are, until forward()
        net.delay(0.05)    # every piece arrives so many seconds late

One thread for the door and one for each direction of each connection; a connection that both sides have ended
leaves nothing behind. Nothing outside loopback.
"""

from __future__ import annotations

import contextlib
import socket
import struct
import threading
from pathlib import Path
from typing import Self

_PIECE = 65536
_RESET = struct.pack("ii", 1, 0)  # SO_LINGER with no time: closing sends a reset


class TcpProxy:
    """`upstream` is host and port of a server, or the path of its socket.

    `connections` counts those taken so far.
    """

    def __init__(self, upstream: tuple[str, int] | Path) -> None:
        self._upstream = upstream
        self._flows = threading.Event()  # cleared: a black hole
        self._flows.set()
        self._cut = False
        self._late_s = 0.0
        self._ended = threading.Event()
        self._lock = threading.Lock()
        self._open: set[socket.socket] = set()
        self.connections = 0
        self._door = socket.create_server(("127.0.0.1", 0), backlog=256)
        self.host, self.port = self._door.getsockname()
        threading.Thread(target=self._admit, daemon=True).start()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def forward(self) -> None:
        """As a sound network does, at once."""
        self._late_s, self._cut = 0.0, False
        self._flows.set()

    def black_hole(self) -> None:
        """Hold back every byte in both directions, of old connections and new ones."""
        self._flows.clear()

    def cut(self) -> None:
        """Reset every connection, on both sides, and from now on each new one."""
        self._cut = True
        self._drop_all()

    def delay(self, seconds: float) -> None:
        """Deliver every piece so much later."""
        self._late_s = seconds

    def close(self) -> None:
        """End everything."""
        self._ended.set()
        self._door.close()
        self._drop_all()
        self._flows.set()

    def _admit(self) -> None:
        while not self._ended.is_set():
            try:
                near, _ = self._door.accept()
            except OSError:
                return
            self.connections += 1
            with self._lock:
                self._open.add(near)
            threading.Thread(target=self._serve, args=(near,), daemon=True).start()

    def _serve(self, near: socket.socket) -> None:
        self._flows.wait()
        if self._cut or self._ended.is_set():
            self._drop(near)
            return
        try:
            far = self._dial()
        except OSError:
            self._drop(near)
            return
        with self._lock:
            self._open.add(far)
        back = threading.Thread(target=self._carry, args=(far, near), daemon=True)
        back.start()
        self._carry(near, far)
        back.join()
        self._forget(near, far)

    def _forget(self, *ended: socket.socket) -> None:
        with self._lock:
            self._open.difference_update(ended)
        for each in ended:
            each.close()

    def _dial(self) -> socket.socket:
        if isinstance(self._upstream, Path):
            far = socket.socket(socket.AF_UNIX)
            try:
                far.connect(str(self._upstream))
            except OSError:
                far.close()
                raise
            return far
        return socket.create_connection(self._upstream, timeout=None)

    def _carry(self, source: socket.socket, target: socket.socket) -> None:
        try:
            while piece := source.recv(_PIECE):
                self._flows.wait()
                if self._late_s:
                    self._ended.wait(self._late_s)
                target.sendall(piece)
            self._flows.wait()  # in a black hole even the end of a connection is not seen
            if self._cut or self._ended.is_set():
                return  # woken because it is being reset: an orderly end would overtake the reset
            target.shutdown(socket.SHUT_WR)
        except OSError:
            self._drop(source)
            self._drop(target)

    def _drop_all(self) -> None:
        with self._lock:
            doomed = list(self._open)
        for each in doomed:
            self._drop(each)

    def _drop(self, each: socket.socket) -> None:
        with contextlib.suppress(OSError):
            if each.family == socket.AF_INET:
                each.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, _RESET)
            each.shutdown(socket.SHUT_RD)  # wakes the thread that reads it, and tells the other side nothing
        self._forget(each)
