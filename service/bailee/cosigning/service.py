"""A cosigner over HTTP, as a plain WSGI application (PEP 3333).

`POST /add-checkpoint` is C2SP tlog-witness. `GET /newest?origin=…` gives the whole note last cosigned, so
that a log which has lost entries can be shown its own signature over them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from http import HTTPStatus
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs

from bailee.cosigning import request
from bailee.cosigning.cosigner import Cosigner, Response
from bailee.errors import BaileeError

if TYPE_CHECKING:
    from wsgiref.types import StartResponse, WSGIEnvironment


def application(
    cosigner: Cosigner, clock: Callable[[], float]
) -> Callable[[WSGIEnvironment, StartResponse], Iterable[bytes]]:
    """The application; `clock` gives seconds since 1970."""

    def answer(environment: WSGIEnvironment, start: StartResponse) -> Iterable[bytes]:
        try:
            found = _answer(cosigner, environment, int(clock()))
        except BaileeError as error:
            found = Response(HTTPStatus.SERVICE_UNAVAILABLE, f"{error.sentence}\n")
        content = found.text.encode()
        start(
            f"{found.status.value} {found.status.phrase}",
            [
                ("Content-Type", found.media),
                ("Content-Length", str(len(content))),
                ("Cache-Control", "no-store"),
                ("X-Content-Type-Options", "nosniff"),
            ],
        )
        return [content]

    return answer


def _answer(cosigner: Cosigner, environment: WSGIEnvironment, now: int) -> Response:
    match environment["REQUEST_METHOD"], environment["PATH_INFO"]:
        case "POST", request.PATH:
            return cosigner.add_checkpoint(_body(environment), now)
        case "GET", request.NEWEST:
            origin = parse_qs(environment.get("QUERY_STRING", "")).get("origin", [""])[0]
            note = cosigner.newest(origin)
            return (
                Response(HTTPStatus.OK, note)
                if note
                else Response(HTTPStatus.NOT_FOUND, "Nothing was cosigned for this log.\n")
            )
        case _, request.PATH | request.NEWEST:
            return Response(HTTPStatus.METHOD_NOT_ALLOWED, "Use POST /add-checkpoint or GET /newest.\n")
    return Response(HTTPStatus.NOT_FOUND, "There is nothing at this address.\n")


def _body(environment: WSGIEnvironment) -> bytes:
    """At most one byte more than a request may have: what is too large is refused where it is read."""
    length = environment.get("CONTENT_LENGTH") or "0"
    stream: Any = environment["wsgi.input"]
    body: bytes = (
        stream.read(min(int(length), request.MAX_BYTES + 1))
        if length.isascii() and length.isdigit() and len(length) < 19
        else b""
    )
    return body
