"""An application on a port of this machine, for whoever reaches it as people do."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from http.server import HTTPServer
from threading import Thread
from typing import TYPE_CHECKING

from werkzeug.serving import make_server

if TYPE_CHECKING:
    from _typeshed.wsgi import WSGIApplication

LOOKS_EVERY_S = 0.02
"""How often a server looks whether it shall end: of itself every half second, and each end waits."""


@contextmanager
def listening(app: WSGIApplication) -> Iterator[str]:
    """Its address, while it answers there."""
    with running(make_server("127.0.0.1", 0, app, threaded=True)) as address:
        yield address


@contextmanager
def running(server: HTTPServer) -> Iterator[str]:
    """The address of a server, which is closed afterwards."""
    thread = Thread(target=server.serve_forever, args=(LOOKS_EVERY_S,))
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
