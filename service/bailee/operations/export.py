"""The auditor's file: one form with every chain it leans on, each entry proven against one checkpoint."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from sqlalchemy.engine import Connection

from bailee.domain.custody import Form
from bailee.domain.form_acts import Opened
from bailee.errors import Unavailable
from bailee.ledger import merkle
from bailee.ledger.base64url import unb64u
from bailee.ledger.checkpoint import parse, read_note
from bailee.operations.books import Books
from bailee.store import log
from bailee.verify import bundle
from bailee.verify.bundle import Bundle


def export(connection: Connection, books: Books, form: Form, exported: datetime) -> Bundle:
    """The bundle of a form whose entries all have their place in the log. Raises `Unavailable` when some do not yet."""
    note = log.newest_note(connection)
    if note is None:
        raise Unavailable("The log has no checkpoint yet: try again in a moment.", code="not-integrated")
    size = parse(read_note(note).text).size
    tiles = log.StoredTiles(connection)
    placed = []
    for chain in leaned_on(form):
        for logged in log.chain(connection, chain):
            if logged.index is None or logged.index >= size:
                raise Unavailable(
                    "The newest entries have no place in the log yet: try again.", code="not-integrated"
                )
            proof = merkle.inclusion_path(tiles, logged.index, size)
            placed.append(bundle.Placed(logged.index, logged.text, logged.disclosures, tuple(proof)))
    roots = {}
    for chain in leaned_on(form):
        kind, _, org = chain.partition("/")
        if kind == "org" and (organisation := books.organisation(connection, org)):
            roots[org] = organisation.root
    return bundle.assemble(form.number, placed, note, _earlier(connection, form, size), roots, exported)


def leaned_on(form: Form) -> list[str]:
    """The form's chain, the lots its samples name, and every organisation that signed or is a party."""
    found = dict.fromkeys([f"form/{form.number}", *_lots(form), *_organisations(form)])
    return list(found)


def _lots(form: Form) -> Iterator[str]:
    for sample in form.samples.values():
        if sample.collected:
            yield f"lot/{sample.collected.lot}"


def _organisations(form: Form) -> Iterator[str]:
    parties = form.opened.of(Opened).parties
    yield f"org/{parties.firm}"
    yield f"org/{parties.lab}"
    for entry in form.entries:
        yield f"org/{entry.org}"


def _earlier(connection: Connection, form: Form, size: int) -> list[bundle.Earlier]:
    """A consistency proof for every tree head a device says it had seen."""
    tiles = log.StoredTiles(connection)
    found = {}
    for entry in form.entries:
        if entry.seen and 0 < entry.seen[0] <= size:
            found[entry.seen] = bundle.Earlier(
                entry.seen[0],
                unb64u(entry.seen[1]),
                tuple(merkle.consistency_path(tiles, entry.seen[0], size)),
            )
    return list(found.values())
