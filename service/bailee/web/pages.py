"""Read-only pages for a browser.

They ask the same questions as the API and write nothing: facts are signed on devices.

A label's QR code leads here too: `/S/…`, `/E/…`, `/F/…`, `/M/…` open the page of the thing for whoever has
entered, and tell everybody else in one sentence what the label is.
"""

from __future__ import annotations

from http import HTTPStatus
from importlib import resources
from typing import Any, Final, NoReturn

from flask import Blueprint, Response, g, redirect, render_template, request, url_for
from markupsafe import Markup
from werkzeug.exceptions import HTTPException, NotFound
from werkzeug.wrappers import Response as AnyResponse

from bailee.api import problems, request_log
from bailee.api.asking import asker, ledger
from bailee.domain import cautions, numbers
from bailee.domain.policy import Policy
from bailee.errors import BaileeError, Forged, Unknown
from bailee.ledger.fingerprint import fingerprint
from bailee.operations import follow_up, queries
from bailee.operations.visibility import Asker
from bailee.presentation import act_words, blind_view, custody_drawing, custody_line, signature_words, words
from bailee.presentation.envelope_view import arrival_facts, taken_in_facts
from bailee.presentation.form_view import envelope_view, form_view
from bailee.presentation.lot_view import expiration, lot_view
from bailee.presentation.signature_words import Signature
from bailee.rules import wording
from bailee.web import entering, home_page, reference_pages

CSP: Final = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
LABELS: Final = {
    "sample": "one air sample under custody",
    "envelope": "an envelope of air samples under custody",
    "form": "the custody record of one visit",
    "lot": "a lot of cassettes for air samples",
}
TITLES: Final = {
    401: "Sign in first",
    403: "Not allowed",
    404: "Nothing here",
    405: "Not this way",
    422: "Check the entry",
    429: "Too many at once",
    500: "Service error",
    503: "Not just now",
}

STATIC: Final = {
    "enter.js": "text/javascript",
    "mark.svg": "image/svg+xml",
    "pages.css": "text/css; charset=utf-8",
}

blueprint = Blueprint("pages", __name__, template_folder="templates")
blueprint.register_blueprint(entering.blueprint)
blueprint.register_blueprint(reference_pages.blueprint)


@blueprint.get("/pages/static/<filename>")
def static(filename: str) -> Response:
    """A style, script or mark: small, so read whole; a browser that hangs up leaves no file open."""
    if filename not in STATIC:
        raise NotFound
    own = resources.files("bailee")
    content = own.joinpath("web", "static", filename).read_bytes()
    if filename == "pages.css":
        content = own.joinpath("presentation", "palette.css").read_bytes() + content
    return Response(content, content_type=STATIC[filename], headers={"Cache-Control": "max-age=300"})


@blueprint.get("/")
def home() -> str:
    """What this is; after entering, what needs the reader, then the newest forms and lots."""
    found = _entered()
    if found is None:
        return render_template("welcome.html")
    with ledger().database.reading() as connection:
        wanted = follow_up.needs(ledger(), connection, found)
    return render_template(
        "home.html",
        sections=home_page.sections(wanted, found),
        left_out=home_page.left_out(wanted),
        looked=wanted.at,
        forms=[home_page.tile(each) for each in wanted.newest],
        lots=wanted.lots,
    )


@blueprint.get("/enter")
def enter() -> str:
    """Where the link of `bailee pages` leads."""
    return render_template("enter.html")


@blueprint.get("/pages/find")
def find() -> AnyResponse:
    """Go to whatever a scanner typed. Raises `BadNumber`."""
    asker()
    number = numbers.read(request.args.get("number", ""))
    return redirect(_address(number), 303)


@blueprint.get("/pages/forms/<number>")
def form(number: str) -> str:
    """One visit: samples, findings, verdicts, links of custody."""
    number, who = numbers.read(number, "form"), asker()
    with ledger().database.reading() as connection:
        found, judged = queries.form(ledger(), connection, who.org, number, role=who.role)
    newest = max(found.entries, key=lambda entry: entry.n)
    view = form_view(found, judged.case, judged.findings)
    return render_template(
        "form.html",
        form=view,
        lines=custody_line.custody_lines(view.samples, custody_line.bounds_of(found)),
        corrections=list(act_words.corrections(found, judged.case)),
        judged=judged,
        newest=newest,
    )


@blueprint.get("/pages/forms/<number>/blind")
def blind(number: str) -> str:
    """What an analyst is given of a form."""
    number, who = numbers.read(number, "form"), asker()
    with ledger().database.reading() as connection:
        found, judged = queries.form(ledger(), connection, who.org, number, role=who.role)
    return render_template(
        "blind.html", copy=blind_view.blind_copy(form_view(found, judged.case)), blind=blind_view
    )


@blueprint.get("/pages/envelopes/<number>")
def envelope(number: str) -> str:
    """One envelope over all its forms."""
    number, who = numbers.read(number, "envelope"), asker()
    with ledger().database.reading() as connection:
        judged = queries.envelope(ledger(), connection, who.org, number, role=who.role)
    return render_template(
        "envelope.html", envelope=envelope_view(number, judged.case, judged.findings), judged=judged
    )


@blueprint.get("/pages/samples/<number>")
def sample(number: str) -> str:
    """One sample from the day its number was issued."""
    number, who = numbers.read(number, "sample"), asker()
    with ledger().database.reading() as connection:
        told = queries.sample(ledger(), connection, who.org, number, who.role)
    if told.form is None or told.sample is None or told.judged is None:
        return render_template("announced.html", number=number, lot=told.lot)
    view = form_view(told.form, told.judged.case, told.judged.findings)
    own = next(each for each in view.samples if each.number == number)
    return render_template(
        "sample.html",
        sample=own,
        lines=custody_line.custody_lines([own], custody_line.bounds_of(told.form)),
        form=view,
        rows=[row for row in view.hand_overs if number in row.samples],
        findings=told.concerning(),
    )


@blueprint.get("/pages/lots/<number>")
def lot(number: str) -> str:
    """One lot: expiration date, numbers issued, recall."""
    number, org = numbers.read(number, "lot"), asker().org
    with ledger().database.reading() as connection:
        found = queries.lot(ledger(), connection, org, number)
        organization = ledger().books.organization(connection, found.org)
    now = ledger().now().instant
    people = {kid: organization.person(kid) for kid in organization.keys} if organization else {}
    today, policy = (
        (organization.day_at(now), organization.policy) if organization else (now.date(), Policy())
    )
    return render_template("lot.html", lot=lot_view(found, found.on(today, policy), people))


@blueprint.get("/<any(S, E, F, M):letter>/<number>")
def label(letter: str, number: str) -> AnyResponse | str:
    """The address inside a label's QR code. Raises `BadNumber` when it was mistyped."""
    kind = numbers.kind_of(letter)
    read = numbers.read(number, kind)
    if _entered():
        return redirect(_address(read), 303)
    return render_template("label.html", number=read, kind=kind, what=LABELS[kind or "sample"])


@blueprint.get("/pages/<path:rest>")
def nowhere(rest: str) -> NoReturn:
    """Any other address under /pages: a page says so, not a program's answer."""
    raise NotFound(rest)


@blueprint.errorhandler(BaileeError)
def ours(error: BaileeError) -> tuple[str, int, dict[str, str]]:
    """Our own errors carry the sentence a person needs."""
    return *_sorry(problems.status_of(error), error.sentence), problems.retry_after(error)


@blueprint.errorhandler(HTTPException)
def http(error: HTTPException) -> tuple[str, int]:
    """Errors of the web."""
    status = error.code or 500
    missing = "There is nothing at this address: check the number or the link."
    return _sorry(status, missing if status == 404 else "This page cannot be shown that way.")


@blueprint.errorhandler(Exception)
def unexpected(error: Exception) -> tuple[str, int]:
    """A fault of ours: the reference finds it in the service's own records."""
    reference = request_log.unexpected(error)
    return _sorry(500, f"Service error. Ask your operator, with this number: {reference}.")


@blueprint.after_request
def guard(response: Response) -> Response:
    """Nothing but this service's own style and script may run on a page."""
    response.headers["Content-Security-Policy"] = CSP
    return response


@blueprint.context_processor
def known() -> dict[str, Any]:
    """What every page may ask for."""
    return {
        "demo": words.demo(ledger().settings.origin),
        "frozen": _frozen,
        "custody_line": custody_line,
        "drawn": _drawn,
        "origin": ledger().settings.origin,
        "asker": g.get("asker"),
        "cautions": cautions,
        "numbers": numbers,
        "words": words,
        "label": words.Heading,
        "arrival_facts": arrival_facts,
        "taken_in_facts": taken_in_facts,
        "expiration": expiration,
        "signatures": signature_words,
        "fingerprint": fingerprint,
        "clock": wording.clock,
        "day": wording.day,
        "start": wording.start,
        "signed": lambda side: side if isinstance(side, Signature) else None,
    }


def _address(number: str) -> str:
    kind = numbers.kind_of(number)
    if kind not in LABELS:
        raise Unknown(
            f"{numbers.grouped(number)} is a seal: scan the envelope it closes to see what is inside.",
            number=number,
        )
    return url_for(f"pages.{kind}", number=number)


def _drawn(line: custody_line.CustodyLine, *, legend: bool) -> Markup:
    """The line of time as markup, in which everything said is escaped."""
    return Markup(custody_drawing.svg(custody_drawing.drawing(line, legend=legend), line.told))  # noqa: S704


def _frozen() -> str | None:
    """Why the log takes nothing, which stands on every page then."""
    with ledger().database.reading() as connection:
        return ledger().guard.sentence(connection)


def _entered() -> Asker | None:
    try:
        return asker()
    except Forged:
        return None


def _sorry(status: int, sentence: str) -> tuple[str, int]:
    title = TITLES.get(status, HTTPStatus(status).phrase)
    return render_template("sorry.html", title=title, sentence=sentence, enter=status in (401, 403)), status
