"""Coming in and going out: a token signed by a device key becomes a cookie for a working day.

The token travels behind the `#` of a link, which browsers never send: a few lines of script read it and post
it here.
"""

from __future__ import annotations

import json
from typing import Final

from flask import Blueprint, Response, redirect, request, url_for
from pydantic import ValidationError
from werkzeug.wrappers import Response as AnyResponse

from bailee.api import problems
from bailee.api.asking import enter, leave, ledger
from bailee.api.layer import JSON, Asked
from bailee.errors import BaileeError, Malformed

blueprint = Blueprint("session", __name__, url_prefix="/session")
_WANTED: Final = 'Send {"token": "…"} as application/json.'


class Entering(Asked):
    """What the script of the link posts."""

    token: str


@blueprint.post("")
def start() -> Response:
    """Exchange `{"token": …}` for a cookie. Answers JSON, like the rest of what programs call."""
    if request.mimetype != JSON:  # which a page of somebody else's cannot send
        raise Malformed(_WANTED, code="bad-request")
    try:
        token = Entering.model_validate_json(request.get_data()).token
    except ValidationError as error:
        raise Malformed(_WANTED, code="bad-request") from error
    found = enter(token)
    return Response(
        json.dumps({"organization": found.org, "role": found.role, "next": url_for("pages.home")}),
        content_type="application/json",
    )


@blueprint.post("/end")
def end() -> AnyResponse:
    """End the session."""
    leave()
    return redirect(url_for("pages.home"), 303)


@blueprint.errorhandler(BaileeError)
def refuse(error: BaileeError) -> Response:
    """Who is not let in learns why, as a problem (RFC 9457)."""
    problem = problems.problem_of(error, ledger().now().text())
    return Response(json.dumps(problem), problem["status"], content_type="application/problem+json")
