"""The composition root: settings in, a WSGI application out. Nothing starts at import."""

from __future__ import annotations

import secrets
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from flask import Flask, Response

from bailee import log_lines
from bailee.api import (
    amending,
    chasing,
    contradictions,
    downloads,
    entries,
    equipment,
    label_downloads,
    layer,
    offline,
    permissions,
    problems,
    published_log,
    questions,
    rate_limits,
    records,
    request_log,
)
from bailee.api.metrics import Metrics
from bailee.config import Settings, ledger_folder, load
from bailee.disk import replacing
from bailee.errors import BaileeError, Unavailable
from bailee.operations.ledger import Clock, Ledger, assemble
from bailee.operations.publishing.log_key import open_log_key
from bailee.rules.remedies import act
from bailee.signing.token import WRONG_PIN
from bailee.store import upgrading
from bailee.store.database import Database
from bailee.store.patience import Patience
from bailee.web import pages, sign_app

SESSION_KEY_FILE: Final = "session.key"
_NOT_LOADED: Final = 4
"""What gunicorn takes for an application that will not load: it ends, and starts no other worker."""
_WRONG_PIN: Final = 5
"""The service ends with it when the token refuses the PIN; deploy/systemd/bailee.service does not start it
again.
"""
LARGEST_REQUEST: Final = 12 * 1024 * 1024
"""Bytes: 500 statements of 16 KiB with some disclosures."""


def present() -> datetime:
    """The clock of a real service."""
    return datetime.now(UTC)


def open_ledger(settings: Settings, clock: Clock = present, *, now: bool = True) -> Ledger:
    """The ledger of an existing home. Raises `Unavailable` when there is none, or it is of another version.

    Without `now` a database that does not answer yet is waited for.
    """
    patience = Patience.within(settings.answer_within_s)
    database = Database(settings.database, patience, threads=settings.threads, pooler=settings.pooler)
    database.require_ready(now=now)
    return assemble(settings, database, open_log_key(settings), clock)


def create_app(settings: Settings, clock: Clock = present) -> Flask:
    """The application over an existing ledger. It starts no thread: `serve` starts the sequencer.

    It begins without its database, as it goes on without it: every request is answered 503 until that is
    there.
    """
    ledger = open_ledger(settings, clock, now=False)
    app = Flask("bailee", static_folder=None)
    app.config.update(
        SECRET_KEY=_session_key(settings.home / SESSION_KEY_FILE),
        MAX_CONTENT_LENGTH=LARGEST_REQUEST,
        SESSION_COOKIE_NAME="custody",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict",
        SESSION_COOKIE_SECURE=settings.address.startswith("https://"),
    )
    app.json.sort_keys = False  # type: ignore[attr-defined]
    app.extensions["ledger"] = ledger
    app.extensions["metrics"] = metrics = Metrics(ledger)
    problems.install(app)
    request_log.install(app, metrics.observe, settings.proxies)
    rate_limits.install(app, settings)
    app.url_map.converters["int"] = layer.WholeNumberConverter
    for blueprint in (
        entries,
        published_log,
        amending,
        contradictions,
        records,
        chasing,
        questions,
        equipment,
        offline,
        permissions,
        downloads,
        label_downloads,
    ):
        app.register_blueprint(blueprint.blueprint)
    app.register_blueprint(pages.blueprint)
    app.register_blueprint(sign_app.blueprint)
    app.extensions["sign"] = sign_app.edition()
    app.after_request(_secure)

    @app.after_request
    def _tell_time(response: Response) -> Response:
        """What a device compares its clock with; not where somebody on the way may keep the answer."""
        if not response.cache_control.public:
            response.headers["Ledger-Time"] = f"{clock().astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"
        return response

    return app


def _session_key(path: Path) -> bytes:
    """What signs the cookies of pages: made anew where it is missing, and everybody enters them once more.

    Several processes that begin together get the same one: it takes its name whole, and only once.
    """
    try:
        if not path.exists():
            whole = replacing.beside(path, secrets.token_bytes(32), replacing.PRIVATE)
            try:
                with suppress(FileExistsError):
                    path.hardlink_to(whole)
            finally:
                whole.unlink()
        return path.read_bytes()
    except OSError as error:
        raise Unavailable(
            f"{path} cannot be read, or made where it is missing ({error.strerror}): correct its owner, or"
            " put another home's there.",
            code="no-session-key",
        ) from error


def require_compared(app: Flask) -> None:
    """Raise `Unavailable` ("not-compared") for a home that was made of a backup, until it was repaired: what
    was erased since would be shown.
    """
    if app.extensions["ledger"].guard.is_restored:
        raise Unavailable(
            "This ledger was made of a backup, and is not compared yet with what others hold of the log."
            " Nothing of it is shown: repair it first.",
            code="not-compared",
            acts=[act("repair_ledger")],
        )


def unfinished(app: Flask) -> str:
    """What an upgrade left to be done, in words, for whoever starts the service; empty where nothing is, or
    the database does not answer.
    """
    if not upgrading.fills_rows():
        return ""
    ledger = app.extensions["ledger"]
    try:
        with ledger.database.reading() as connection:
            left = upgrading.unfilled(connection)
    except Unavailable:
        return ""
    numbers = ", ".join(each.revision for each in left)
    return numbers and (
        f"An upgrade is not finished, rows of {numbers} are still to be filled: run `bailee migrate --home"
        f" {ledger.settings.home}`, also beside the service."
    )


def wsgi() -> Flask:
    """For production servers that import a factory: the home is $BAILEE_LEDGER.

    Starts the sequencer of this process. What cannot be started says why and ends.
    """
    import sys

    log_lines.write_to(sys.stdout)
    try:
        app = create_app(load(ledger_folder()))
        require_compared(app)
    except BaileeError as error:
        sys.stderr.write(f"{error.sentence}\n")
        raise SystemExit(_WRONG_PIN if error.code == WRONG_PIN else _NOT_LOADED) from error
    if left := unfinished(app):
        sys.stderr.write(f"{left}\n")
    ledger = app.extensions["ledger"]
    ledger.sequencer.start(ledger.settings.integrate_every_ms / 1000)
    if ledger.settings.metrics:
        app.extensions["metrics"].serve(ledger.settings.metrics)
    return app


def _secure(response: Response) -> Response:
    response.headers.setdefault("X-Content-Type-Options", "nosniff")
    response.headers.setdefault("Referrer-Policy", "no-referrer")
    response.headers.setdefault("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
    response.headers.setdefault("Cache-Control", "no-store")
    return response
