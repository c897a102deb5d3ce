"""Each request by a number of its own: in the answer, in the problem it became, in the line that is written.

The number is the caller's (`X-Request-Id`, of a proxy) where it is one, or made here. Who asked is nowhere.
"""

from __future__ import annotations

import logging
import re
import secrets
import time
from collections.abc import Callable, Collection
from typing import Final

from flask import Flask, Response, g, has_request_context, request

from bailee.log_lines import EVENT

_log = logging.getLogger(__name__)
_HEADER: Final = "X-Request-Id"
_NUMBER: Final = re.compile(r"[A-Za-z0-9-]{8,64}")
_METHODS: Final = frozenset({"GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE"})
"""RFC 9110 9.3, RFC 5789; a method is free text of the caller."""
_NOWHERE: Final = "none"
"""The route of what there is not."""

Watch = Callable[[str, str, int, float], None]
"""Told of each answer: method, route, status, seconds."""


def number() -> str:
    """That of the request in progress."""
    return str(g.request_number) if has_request_context() and "request_number" in g else ""


def unexpected(error: Exception) -> str:
    """Write the line of an error nobody foresaw; the number to find it by."""
    line = {"event": "unexpected-error", "request": number(), "route": str(request.url_rule)}
    _log.error("unexpected error in request %s", number(), exc_info=error, extra={EVENT: line})
    return number()


def install(app: Flask, watch: Watch, proxies: Collection[str]) -> None:
    """Number every request, and tell of it once it is answered. To be installed before what may refuse it.

    A number that comes along is believed from `proxies` alone: anybody else could write into these lines.
    """

    @app.before_request
    def _begin() -> None:
        given = request.headers.get(_HEADER, "") if request.remote_addr in proxies else ""
        g.request_number = given if _NUMBER.fullmatch(given) else secrets.token_hex(6)
        g.began = time.perf_counter()

    @app.after_request
    def _end(response: Response) -> Response:
        seconds = time.perf_counter() - g.began
        response.headers[_HEADER] = number()
        route = str(request.url_rule) if request.url_rule else _NOWHERE
        method = request.method if request.method in _METHODS else "other"
        watch(method, route, response.status_code, seconds)
        said = {
            "event": "request",
            "request": number(),
            "method": method,
            "route": route,
            "status": response.status_code,
            "ms": round(seconds * 1000, 1),
        }
        if code := g.get("problem_code"):
            said["code"] = code
        _log.info("request", extra={EVENT: said})
        return response
