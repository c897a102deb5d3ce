"""A worker of gunicorn that reads requests as `bailee serve` does, and leaves the lead to the next process
when it ends.

gunicorn's own workers give a thread to every connection that has begun to speak, so that as many half-sent
requests as there are threads stop them. gunicorn starts processes, watches them, and ends them; here is what
it starts.
"""

from __future__ import annotations

import os
from typing import Any

from gunicorn.workers.base import Worker as Base

from bailee.serving.connections import Server


class Worker(Base):
    """One process."""

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
