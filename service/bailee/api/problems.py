"""Errors as RFC 9457 problem details: the only place that knows status codes."""

from __future__ import annotations

import json
import logging
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any, Final

from flask import Flask, Response, current_app, g
from pydantic import BaseModel, ConfigDict, Field, ValidationError
from werkzeug.exceptions import HTTPException

from bailee.api import request_log
from bailee.errors import BaileeError, Broken, Forged, Malformed, Refused, Unavailable, Unknown

_log = logging.getLogger(__name__)

BY_CODE: Final[dict[str, int]] = {
    "too-large": 413,
    "unknown-key": 403,
    "revoked-key": 403,
    "wrong-role": 403,
    "wrong-organization": 403,
    "not-admitted": 403,
    "not-a-monitor": 403,
    "wrong-form": 409,
    "device-fork": 409,
    "unknown-entry": 409,
    "unknown-head": 409,
    "number-taken": 409,
    "retention-held": 409,
    "wrong-count": 409,
    "cosignature": 422,
    "bad-token": 401,
    "token-expired": 401,
    "token-used": 401,
    "no-token": 401,
    "too-many-requests": 429,
}
BY_KIND: Final[dict[type[BaileeError], int]] = {
    Malformed: 422,
    Forged: 422,
    Unknown: 404,
    Refused: 409,
    Unavailable: 503,
    Broken: 500,
}
RETRY_AFTER_S: Final[dict[str, int]] = {"log-frozen": 60, "publication-behind": 30}
"""Seconds after which asking again makes sense, where that is not 2.

An error may say its own (`retry_after_s`).
"""
_KEPT_HEADERS: Final = frozenset({"allow", "retry-after", "www-authenticate"})


class FaultOut(BaseModel):
    """One fault among several: where (JSON pointer) and what."""

    at: str
    says: str


class Problem(BaseModel):
    """RFC 9457 problem details. `code` is stable; other members are facts of that code."""

    model_config = ConfigDict(extra="allow")

    type: str
    title: str
    status: int
    detail: str
    code: str
    now: str = Field(description="The ledger's clock, so that a device can show how far its own is off.")
    request: str | None = Field(None, description="Number of this request, by it the operator finds it.")
    errors: list[FaultOut] | None = None


def status_of(error: BaileeError) -> int:
    """HTTP status of one of our errors."""
    known = BY_CODE.get(error.code)
    return known or next((status for kind, status in BY_KIND.items() if isinstance(error, kind)), 500)


def codes(status: int) -> list[str]:
    """Codes that are answered with this status: their own, those of a kind of error, those of HTTP."""
    own = [code for code, known in BY_CODE.items() if known == status]
    return [
        *own,
        *(kind.code for kind, known in BY_KIND.items() if known == status),
        *_HTTP_CODES.get(status, ()),
    ]


def problem_of(error: BaileeError, now: str) -> dict[str, Any]:
    """The problem object for one of our errors."""
    return _problem(status_of(error), error.code, error.sentence, now, error.facts)


def retry_after(error: BaileeError) -> dict[str, str]:
    """The header that says when to ask again; nothing where asking again helps nobody."""
    if status_of(error) not in (HTTPStatus.SERVICE_UNAVAILABLE, HTTPStatus.TOO_MANY_REQUESTS):
        return {}
    return {"Retry-After": str(error.facts.get("retry_after_s") or RETRY_AFTER_S.get(error.code, 2))}


def _problem(
    status: int, code: str, detail: str, now: str, facts: dict[str, Any] | None = None
) -> dict[str, Any]:
    safe = {
        name: value
        for name, value in (facts or {}).items()
        if name not in Problem.model_fields or name == "errors"
    }
    return {
        "type": f"/problems/{code}",
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
        "code": code,
        "now": now,
        **safe,
    }


def _answer(problem: dict[str, Any]) -> Response:
    g.problem_code = problem["code"]
    told = problem | {"request": request_log.number()}
    text = json.dumps(told, ensure_ascii=False, default=str)
    response = Response(text, problem["status"], content_type="application/problem+json")
    if problem["status"] == HTTPStatus.UNAUTHORIZED:
        response.headers["WWW-Authenticate"] = 'Bearer realm="custody"'
    return response


def _now() -> str:
    return str(current_app.extensions["ledger"].now().text())


def _said(fault: Mapping[str, Any]) -> str:
    """Our own sentence where a check of ours refused.

    The reader of requests puts two words of its own before it.
    """
    said: str = fault["msg"]
    return said.removeprefix("Value error, ") if fault["type"] == "value_error" else said


def install(app: Flask) -> None:
    """Turn every error of every kind into a problem."""

    @app.errorhandler(BaileeError)
    def ours(error: BaileeError) -> Response:
        answer = _answer(problem_of(error, _now()))
        answer.headers.update(retry_after(error))
        return answer

    @app.errorhandler(ValidationError)
    def shape(error: ValidationError) -> Response:
        faults = error.errors(include_url=False, include_context=False, include_input=False)
        if any(fault["type"] == "json_invalid" for fault in faults):
            return _answer(
                _problem(400, "not-json", "The request is not JSON: send one JSON object.", _now())
            )
        errors = [
            {"at": "".join(f"/{step}" for step in fault["loc"]) or "/", "says": _said(fault)}
            for fault in faults
        ]
        listed = "; ".join(f"{each['at']}: {each['says']}" for each in errors[:5])
        return _answer(
            _problem(422, "bad-request", f"The request cannot be used: {listed}.", _now(), {"errors": errors})
        )

    @app.errorhandler(HTTPException)
    def http(error: HTTPException) -> Response:
        status = error.code or 500
        code = HTTPStatus(status).phrase.lower().replace(" ", "-")
        response = _answer(
            _problem(status, code, _HTTP_SENTENCES.get(status, "The request cannot be answered."), _now())
        )
        for name, value in error.get_headers():
            if name.lower() in _KEPT_HEADERS:
                response.headers[name] = value
        return response

    @app.errorhandler(Exception)
    def unexpected(error: Exception) -> Response:
        reference = request_log.unexpected(error)
        said = f"Service error. Nothing you sent is lost; ask your operator, with this number: {reference}."
        return _answer(_problem(500, "internal", said, _now(), {"reference": reference}))


_HTTP_CODES: Final = {
    400: ("not-json", "bad-request"),
    415: ("unsupported-media-type",),
    422: ("bad-request",),
}
_HTTP_SENTENCES: Final = {
    400: "The request cannot be read.",
    404: "There is nothing at this address: check the number or the link.",
    405: "This address cannot be used in that way.",
    413: "The request is too large: send fewer entries at once.",
    415: "Send the request as application/json.",
}
