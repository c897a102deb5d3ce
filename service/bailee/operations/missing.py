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
Kept = Mapping[int, Sequence[str]]
"""Texts that were refused, by counter. One counter has several where its key said two things, and the wrong
one may have come first.
"""


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


def _unexplained(stretches: Sequence[Missing], kept: Kept, known: Known) -> Iterator[Gap]:
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


def _explaining(stretch: Missing, kept: Kept, known: Known) -> dict[int, str]:
    """By counter, the texts that fit between their neighbors here and show by themselves why they were
    refused.
    """
    behind = _claims(stretch.behind)
    assert behind
    read = {
        seq: [signed for text in texts if (signed := _shown(seq, text, behind, known))]
        for seq, texts in kept.items()
        if stretch.first <= seq <= stretch.last
    }
    digests = {seq: [each.digest for each in signed] for seq, signed in read.items() if signed}
    if stretch.before:
        digests[stretch.first - 1] = [signed_statement.digest(entries.read(stretch.before).stmt)]
    links = {stretch.last + 1: behind.prev}
    found: dict[int, str] = {}
    for seq in sorted(read, reverse=True):
        for signed in read[seq]:
            prev = signed.claims.prev
            follows = (seq == 1) == (prev is None) and prev in digests.get(seq - 1, [prev])
            if follows and links.get(seq + 1, signed.digest) == signed.digest:
                found[seq], links[seq] = signed.text, prev
                break
    return found


def _shown(seq: int, text: str, behind: Claims, known: Known) -> SignedStatement | None:
    """None: what cannot show why it was refused explains nothing."""
    try:
        signed, _ = refused.read(text, behind.aud, known(behind.iss))
    except BaileeError:
        return None
    return signed if signed.claims.seq == seq else None


def _claims(text: str | None) -> Claims | None:
    return signed_statement.read(entries.read(text).stmt).claims if text else None
