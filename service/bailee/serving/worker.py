"""A worker of gunicorn that reads requests as `bailee serve` does, and leaves the lead to the next process
when it ends.

gunicorn's own workers give a thread to every connection that has begun to speak, so that as many half-sent
requests as there are threads stop them. gunicorn starts processes, watches them, and ends them; here is what
it starts.
"""

from __future__ import annotations

import mmap
import os
from typing import Any

from gunicorn.errors import HaltServer
from gunicorn.workers.base import Worker as Base

from bailee.serving.connections import Server


class Worker(Base):
    """One process."""

    def __init__(self, *given: Any) -> None:
        """Made by gunicorn before it forks, so that it sees what the process writes into `status`."""
        super().__init__(*given)
        self.status = mmap.mmap(-1, 1)

    def load_wsgi(self) -> None:
        """As usual; what the application ends with instead of starting, gunicorn is told."""
        try:
            super().load_wsgi()
        except SystemExit as error:
            self.status[0] = error.code if isinstance(error.code, int) else 1
            raise

    def run(self) -> None:
        """Serve until gunicorn says stop, or is gone."""
        app: Any = self.wsgi
        ledger = app.extensions["ledger"]
        doors: Any = self.sockets  # gunicorn's wrappings of sockets
        server = Server.of(app, sockets=[each.sock for each in doors])
        try:
            server.run(self._go_on)
        finally:
            ledger.sequencer.stop()
            ledger.database.close()

    def _go_on(self) -> None:
        self.notify()
        if not self.alive or self.ppid != os.getppid():
            raise SystemExit(0)


def child_exit(server: Any, worker: Worker) -> None:
    """A hook of gunicorn. An application that ended instead of starting ends the service, with its status:
    gunicorn would start the next process, and that would try the same.
    """
    is_ending = not server.LISTENERS
    if (status := worker.status[0]) and not is_ending:
        raise HaltServer("The application did not start.", status)
