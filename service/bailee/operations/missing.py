"""Counters of devices that never arrived: between which statements they lie, and which of them a refused
statement explains.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import UTC, datetime

from sqlalchemy.engine import Connection

from bailee.domain.organizations import Organization
from bailee.errors import BaileeError
from bailee.ledger import entry as entries
from bailee.rules.case import Gap
from bailee.signing import refused, signed_statement
from bailee.signing.signed_statement import Claims, SignedStatement
from bailee.store import counters, refused_table
from bailee.store.counters import Missing

Known = Callable[[str], Organization | None]


def gaps(
    connection: Connection, kids: Sequence[str], known: Known, at: datetime | None = None
) -> dict[str, tuple[Gap, ...]]:
    """By key, the stretches of its counters that never arrived, by an instant or by now, and that nothing
    explains. `known` gives an organization by its name.
    """
    found = counters.missing_counters(connection, kids, at)
    kept = refused_table.of(connection, found.keys(), at) if found else {}
    told = {kid: tuple(_unexplained(each, kept.get(kid, {}), known)) for kid, each in found.items()}
    return {kid: gaps for kid, gaps in told.items() if gaps}


def explaining(connection: Connection, kids: Sequence[str], known: Known) -> list[str]:
    """The refused statements of these keys that explain a missing counter."""
    found = counters.missing_counters(connection, kids)
    kept = refused_table.of(connection, found.keys()) if found else {}
    return [
        text
        for kid, stretches in found.items()
        for each in stretches
        for text in _explaining(each, kept.get(kid, {}), known).values()
    ]


def _unexplained(stretches: Sequence[Missing], kept: Mapping[int, str], known: Known) -> Iterator[Gap]:
    for each in stretches:
        before, behind = _claims(each.before), _claims(each.behind)
        assert behind
        after = datetime.fromtimestamp(before.iat, UTC) if before else None
        shown = datetime.fromisoformat(entries.read(each.behind).rec)
        first = each.first
        for seq in [*sorted(_explaining(each, kept, known)), each.last + 1]:
            if first < seq:
                yield Gap(first, seq - 1, after, shown)
            first = seq + 1


def _explaining(stretch: Missing, kept: Mapping[int, str], known: Known) -> dict[int, str]:
    """By counter, the texts that fit between their neighbors here and show by themselves why they were
    refused.
    """
    behind = _claims(stretch.behind)
    assert behind
    read: dict[int, SignedStatement] = {}
    for seq, text in kept.items():
        if stretch.first <= seq <= stretch.last:
            try:
                signed, _ = refused.read(text, behind.aud, known(behind.iss))
            except BaileeError:
                continue  # what cannot show it explains nothing
            if signed.claims.seq == seq:
                read[seq] = signed
    digests = {seq: signed.digest for seq, signed in read.items()}
    links = {seq: signed.claims.prev for seq, signed in read.items()} | {stretch.last + 1: behind.prev}
    before = signed_statement.digest(entries.read(stretch.before).stmt) if stretch.before else None
    digests |= {stretch.first - 1: before} if before else {}
    return {
        seq: signed.text
        for seq, signed in read.items()
        if links.get(seq + 1, signed.digest) == signed.digest
        and digests.get(seq - 1, signed.claims.prev) == signed.claims.prev
        and (seq == 1) == (signed.claims.prev is None)
    }


def _claims(text: str | None) -> Claims | None:
    return signed_statement.read(entries.read(text).stmt).claims if text else None
