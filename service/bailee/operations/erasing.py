"""Erasing private fields: an act of administration, refused when it is not in order.

The act says how many fields of which statement are erased; their names come beside it as a private field that
is signed, used here and never kept. The rows go in the same transaction that records the act.

A hold on a form keeps what is private on it, and what is private about the people whose names its file needs:
who signed on the form or on the lots of its samples, and to whom it was given. Their enrollments, rotations
and the notes about their keys stand on their organization's chain.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Final

from sqlalchemy.engine import Connection

from bailee.disk import durable
from bailee.domain.acts.privacy import Erased
from bailee.domain.acts.table import name_of
from bailee.domain.custody import Form
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.errors import Forged, Malformed, Unknown
from bailee.frozen import frozen
from bailee.ledger import entry as entries
from bailee.operations.snapshots import Books
from bailee.signing import signed_statement
from bailee.signing.signed_statement import SignedStatement
from bailee.store import log, number_index, private, tree
from bailee.store.private import Spoken


@frozen
class Erasure:
    """What is about to go: rows of one statement."""

    spoken: Spoken
    positions: tuple[int, ...]

    def done(self, connection: Connection) -> None:
        """Erase it."""
        private.erase(connection, self.spoken, self.positions)


def require(connection: Connection, books: Books, signed: SignedStatement, body: Erased) -> Erasure:
    """What this act erases.

    Raises as `require_allowed` does, and `Forged` ("wrong-count") when so many are not there.
    """
    spoken = require_allowed(connection, books, signed.claims.iss, signed.claims.sub, body)
    wanted = set(signed.disclosed.get("fields", "").split())
    positions = tuple(at for name, at in spoken.fields if not wanted or name in wanted)
    if len(positions) != body.count:
        raise Forged(
            f"There are {len(positions)} such private fields of this entry now, and {body.count} are listed:"
            " check again.",
            code="wrong-count",
            count=len(positions),
        )
    return Erasure(spoken, positions)


def require_allowed(connection: Connection, books: Books, org: str, chain: str, body: Erased) -> Spoken:
    """The statement in which this organization may erase what is private, by what others hold.

    Raises `Unknown` for a statement that is not on its chain, and `Forged` when it may not be done.

    Codes: `wrong-organization` (it was made by another organization), `retention-held`.
    """
    spoken = private.find(connection, body.statement, number_index.seen_by(org))
    if spoken is None or spoken.chain != chain:
        raise Unknown(f"There is no entry {body.statement} on {chain}.", statement=body.statement)
    if spoken.org != org:
        raise Forged(
            f"That entry was signed by {spoken.org}: only its own administrator may erase what is private"
            " in it.",
            code="wrong-organization",
        )
    if chain.startswith("form/"):
        held = sorted(books.form(connection, chain.removeprefix("form/")).retained)
        if held:
            raise Forged(
                f"The private fields of this form are held by {', '.join(held)}: nothing is erased until they"
                " release it.",
                code="retention-held",
                held=held,
            )
    elif chain.startswith("org/"):
        _require_not_needed(connection, books, spoken)
    return spoken


@frozen
class Returned:
    """Private fields that are here again although the log says that they were erased; `is_all`: every field
    of their statement was, so that it is known which.
    """

    spoken: Spoken
    count: int
    is_all: bool

    def sentence(self) -> str:
        """For the operator."""
        fields = "private field" if self.count == 1 else "private fields"
        return (
            f"{self.count} {fields} of entry {self.spoken.n} of {self.spoken.chain} that had been erased came"
            f" back: ask {self.spoken.org} to erase again."
        )


def returned(connection: Connection, erased: Mapping[str, int]) -> Iterator[Returned]:
    """What an old copy of the database brought back; `erased`: by statement, how many are said to be gone."""
    for digest, count in erased.items():
        spoken = private.find(connection, digest)
        too_many = len(spoken.fields) + count - spoken.signed if spoken else 0
        if spoken and too_many > 0:
            yield Returned(spoken, too_many, count >= spoken.signed)


def again(connection: Connection) -> tuple[int, list[Returned]]:
    """Erase again what an old copy of the database brought back: how many fields, and what is left because
    only its owner knows which.
    """
    erased: Counter[str] = Counter()
    for logged in log.everything(connection, 0, tree.size(connection)):
        claims = signed_statement.read(entries.read(logged.text).stmt).claims
        if claims.act == name_of(Erased):
            erased[claims.data["statement"]] += claims.data["count"]
    found = list(returned(connection, erased))
    for each in found:
        if each.is_all:
            private.erase(connection, each.spoken, [at for _, at in each.spoken.fields])
    return sum(each.count for each in found if each.is_all), [each for each in found if not each.is_all]


UNKNOWN_FILE: Final = "erasures-unknown"
"""In the home and in its backups: since when nobody knows what was erased, because a copy of the database
took its place."""


def note_unknown(home: Path, since: str) -> None:
    """A copy of the ledger, made at `since`, goes on by the word that nobody holds more: of what was erased
    later there is no entry, and it can be read again.
    """
    if not unknown_since(home):  # the oldest counts until everybody was asked
        durable.write(home / UNKNOWN_FILE, (since or _SOME_TIME).encode())


def unknown_since(home: Path) -> str:
    """Since when; empty where nothing is unknown, or everybody was asked."""
    try:
        return Moment.parse((home / UNKNOWN_FILE).read_text("utf-8")).text()
    except FileNotFoundError:
        return ""
    except (OSError, ValueError, Malformed):
        return _SOME_TIME


def everybody_was_asked(home: Path) -> None:
    """Each organization erased again what it had erased since."""
    (home / UNKNOWN_FILE).unlink(missing_ok=True)


_SOME_TIME: Final = "this copy was made"


def _require_not_needed(connection: Connection, books: Books, spoken: Spoken) -> None:
    """No form that is held may need the person whom this statement on an organization's chain is about.

    A form on which the organization never spoke needs nobody of it: a stranger may name anybody as a party,
    or in a hand-over, and hold that.
    """
    retained = number_index.ever_retained(connection, spoken.org)
    if not retained:
        return
    org = books.organization(connection, spoken.org)
    owners = org.owners if org else {}
    about = _about(connection, spoken)
    kids = {kid for kid, owner in owners.items() if owner == owners.get(about, about)} | {about}
    for number in retained:
        form = books.form(connection, number)
        if form.retained and kids & _needed(connection, books, form):
            held = sorted(form.retained)
            raise Forged(
                f"Form {grouped(number)} needs the name of who signed on it, and is held by"
                f" {', '.join(held)}: nothing private about this person is erased until they release it.",
                code="retention-held",
                held=held,
                form=number,
            )


def _about(connection: Connection, spoken: Spoken) -> str:
    """The key that the statement is about: the one it names, or else the one that signed it."""
    logged = next(iter(log.chain(connection, spoken.chain, after=spoken.n - 1)))
    named = signed_statement.read(entries.read(logged.text).stmt).claims.data.get("kid")
    return named if isinstance(named, str) else spoken.kid


def _needed(connection: Connection, books: Books, form: Form) -> set[str]:
    """Keys of the people whose names the file of this form shows for what they did with its samples."""
    lots = {sample.lot for sample in form.samples.values() if sample.lot}
    on_lots = [entry for number in sorted(lots) for entry in books.entries(connection, f"lot/{number}")]
    given = {entry.data.get("to_kid") for entry in form.entries}
    return {entry.kid for entry in (*form.entries, *on_lots)} | {kid for kid in given if isinstance(kid, str)}
