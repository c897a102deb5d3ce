"""The auditor's file: one form with every chain it leans on, each entry proven against one checkpoint."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from datetime import datetime

from sqlalchemy.engine import Connection

from bailee.domain.acts.form import Opened
from bailee.domain.custody import Form
from bailee.domain.statements import Recorded
from bailee.errors import Unavailable
from bailee.ledger import entry as entries
from bailee.ledger import merkle
from bailee.ledger.base64url import b64u, unb64u
from bailee.ledger.checkpoint import parse, read_note
from bailee.ledger.ends import End, Ends
from bailee.operations import missing, redaction
from bailee.operations.snapshots import Books
from bailee.signing import recording, signed_statement
from bailee.store import conflict_table, log, time_stamps, tree
from bailee.store.log import Logged
from bailee.verify import bundle
from bailee.verify.bundle import Bundle
from bailee.verify.file_limits import MAX_CONFLICTS, MAX_REFUSED


def export(
    connection: Connection, books: Books, form: Form, reader: str, exported: datetime,
    sign_ends: Callable[[Ends], str],
) -> Bundle:  # fmt: skip
    """The bundle of a form whose entries all have their place in the log, with the private fields that `form`
    still shows the organization `reader`.

    `sign_ends` signs, with the log's key, where each chain ends. Raises `Unavailable` when some entries have
    no place yet.
    """
    leaned = leaned_on(connection, books, form)
    chains = {
        **{chain: [] for chain in named(form)},
        **{chain: log.chain(connection, chain) for chain in leaned},
    }
    found = [logged for chain in chains.values() for logged in chain]
    least = max(-1 if logged.index is None else logged.index for logged in found) + 1
    note = tree.note_over(connection, least)
    if note is None or any(logged.index is None for logged in found):
        raise Unavailable(
            "The newest entries are not under a signed checkpoint yet: try again in a moment.",
            code="not-integrated",
        )
    checkpoint = parse(read_note(note).text)
    size = checkpoint.size
    ends = Ends(checkpoint, {chain: _end(logged) for chain, logged in chains.items()})
    tiles = tree.StoredTiles(connection)
    read = [recording.own_entry(entries.read(logged.text), logged.leaf, ()) for logged in found]
    orgs = [
        known
        for chain in leaned
        if chain.startswith("org/") and (known := books.organization(connection, chain[4:]))
    ]
    concerned = _concerned(read, {kid: one for org in orgs for kid, one in org.owners.items()})
    is_for_reader = redaction.is_for(form.opened.entry, reader)
    readable = {entry.digest for entry in form.entries if entry.disclosed}
    placed = []
    for logged, entry in zip(found, read, strict=True):
        assert logged.index is not None
        proof = merkle.inclusion_path(tiles, logged.index, size)
        shown = entry.digest in concerned and (
            entry.digest in readable or entry.chain != f"form/{form.number}"
        )
        told = logged.disclosures if shown else ()
        if not is_for_reader:
            told = redaction.beside(entry, told, reader)
        placed.append(bundle.Placed(logged.index, logged.text, told, tuple(proof)))
    roots = {org.id: org.root for org in orgs}
    stamped = time_stamps.over(connection, (logged.index or 0 for logged in found), size)
    earlier = _earlier(connection, read, size, {each.size for each in stamped})
    made = [bundle.TimeStampToken(each.size, each.der) for each in stamped]
    return bundle.assemble(
        form.number,
        placed,
        note,
        sign_ends(ends),
        earlier,
        roots,
        exported,
        _conflicts(connection, form, roots),
        made,
        _refused(connection, books, read),
    )


def statements(connection: Connection, form: Form) -> dict[str, str]:
    """The signed statements of a form by their digests."""
    texts = (entries.read(logged.text).stmt for logged in log.chain(connection, f"form/{form.number}"))
    return {signed_statement.digest(text): text for text in texts}


def leaned_on(connection: Connection, books: Books, form: Form) -> list[str]:
    """The form's chain, the lots it leans on, and every organization that signed any of it."""
    lots = books.lots_of(connection, form)
    orgs = dict.fromkeys([*(entry.org for entry in form.entries), *(lot.org for lot in lots.values())])
    return [f"form/{form.number}", *(f"lot/{number}" for number in lots), *(f"org/{org}" for org in orgs)]


def named(form: Form) -> list[str]:
    """What a form names, whether or not there is any of it that its parties may read: the file says where
    each of these ends.
    """
    parties = form.opened.of(Opened).parties
    lots = dict.fromkeys(sample.lot for sample in form.samples.values() if sample.lot)
    return [*(f"lot/{number}" for number in lots), f"org/{parties.firm}", f"org/{parties.lab}"]


def _end(chain: Sequence[Logged]) -> End:
    return End(chain[-1].n, chain[-1].leaf) if chain else End(0, None)


def _concerned(read: Sequence[Recorded], owners: Mapping[str, str]) -> set[str]:
    """Statements whose private fields belong into the file: all but those about colleagues who neither sign
    nor are named here.
    """
    named = [entry.data.get(member) for entry in read for member in ("to_kid", "to")]
    here = {owners.get(kid) for kid in [*(entry.kid for entry in read), *named] if isinstance(kid, str)}
    found = set()
    for entry in read:
        about = entry.data.get("kid") if entry.chain.startswith("org/") else None
        if about is None or owners.get(about, about) in here:
            found.add(entry.digest)
    return found


def _conflicts(connection: Connection, form: Form, orgs: Collection[str]) -> list[tuple[str, str]]:
    """Contradictions of one key of `orgs`, those whose chains are in the file, in which either statement is
    about this form.

    Of parties only: nobody else has said anything on it, and what was refused of others is no part of it.

    What was said on other forms is not its parties' affair. Of more than a file may hold the first: they are
    enough to weigh, and no party makes the file unreadable by contradicting itself.
    """
    chain = f"form/{form.number}"
    found = conflict_table.about(
        connection, chain, {entry.kid for entry in form.entries}, form.parties & set(orgs)
    )
    return [(pair.other, pair.refused) for pair in found if chain in pair.chains][:MAX_CONFLICTS]


def _refused(connection: Connection, books: Books, read: Iterable[Recorded]) -> Sequence[str]:
    """Refused statements that explain a number missing from the count of a device that speaks in the file."""
    kids = sorted({entry.kid for entry in read})
    found = missing.explaining(connection, kids, lambda org: books.organization(connection, org))
    return found[:MAX_REFUSED]


def _earlier(
    connection: Connection, entries: Iterable[Recorded], size: int, stamped: Iterable[int]
) -> list[bundle.Earlier]:
    """A consistency proof for every tree head a device says it had seen, and for those that were stamped."""
    tiles = tree.StoredTiles(connection)
    heads = {entry.seen for entry in entries if entry.seen and 0 < entry.seen[0] <= size}
    heads |= {(past, b64u(root)) for past in stamped if (root := tree.root_at(connection, past))}
    return [
        bundle.Earlier(past, unb64u(root), tuple(merkle.consistency_path(tiles, past, size)))
        for past, root in sorted(heads)
    ]
