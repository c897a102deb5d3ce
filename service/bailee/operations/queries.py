"""Answering questions about what is recorded: the case of a form, an envelope or a sample, judged now or as
of a moment; one entry of the log; the organization that somebody means.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from difflib import SequenceMatcher
from typing import Final

from sqlalchemy.engine import Connection

from bailee.domain.acts import mentions
from bailee.domain.custody import Form, Sample
from bailee.domain.lots import Lot
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.domain.organizations import Organization
from bailee.errors import Malformed, Unknown
from bailee.frozen import frozen
from bailee.operations import number_lookup, redaction, visibility
from bailee.operations.ledger import Ledger
from bailee.operations.snapshots import Books, Past
from bailee.rules.case import Case
from bailee.rules.registry import Finding, evaluate
from bailee.rules.verdicts import Verdict, verdicts
from bailee.store import founding, log, number_index
from bailee.store.log import Logged

_ALIKE: Final = 0.4
"""Share of characters that two names must have in common and in order to be taken for each other (common
practice, no source)."""
_MOST: Final = 3


@frozen
class Judged:
    """A case with what the rules say of it."""

    case: Case
    findings: tuple[Finding, ...]
    verdicts: tuple[Verdict, ...]

    def about(self, *numbers: str) -> list[Finding]:
        """Findings about any of these."""
        return [found for found in self.findings if any(map(found.concerns, numbers))]


@frozen
class SampleAnswer:
    """What is known of one sample number: its lot, and its form once it was collected or voided."""

    number: str
    lot: Lot | None
    form: Form | None
    sample: Sample | None
    judged: Judged | None

    def concerning(self) -> list[Finding]:
        """Findings that bear on it: all of its form, except those about other samples, or another envelope or
        lot, that do not name it.
        """
        if self.judged is None or self.form is None or self.sample is None:
            return []
        near = {self.number, self.sample.envelope, self.sample.lot}
        others = {*self.form.samples, *self.form.envelopes, *self.judged.case.lots} - near
        name = grouped(self.number)
        return [
            each
            for each in self.judged.findings
            if each.concerns(self.number)
            or name in each.sentence
            or (each.about not in others and not each.samples)
        ]


def form(
    ledger: Ledger,
    connection: Connection,
    asker: str,
    number: str,
    as_of: Moment | None = None,
    role: str = "",
    read: Books | None = None,
) -> tuple[Form, Judged]:
    """A form and its judgment, now or as it was at a moment; `role`: that of somebody who reads it. `read`:
    books in which it may have been read already.

    Raises `Unknown` when the asker may not see it or it was not there.

    `Malformed`, code `future`, for a moment that has not come.
    """
    visibility.require(connection, f"form/{number}", asker)
    books, at = _books(ledger, as_of)
    judged = _judge(connection, read or books, at, {number}, asker, role)
    return judged.case.forms[number], judged


def envelope(
    ledger: Ledger, connection: Connection, asker: str, number: str, as_of: Moment | None = None, *,
    form: str | None = None, held: Collection[str] | None = None, role: str = "",
) -> Judged:  # fmt: skip
    """All forms of an envelope that the asker may see, judged together, now or as it was at a moment.

    Raises as `form` does, and for what is meant by `form` and `held` as `number_lookup.forms_with`.
    """
    books, at = _books(ledger, as_of)
    numbers = number_lookup.forms_with(connection, books, asker, number, form=form, held=held)
    if not numbers:
        raise visibility.nothing("envelope", number)
    return _judge(connection, books, at, numbers, asker, role)


def used_before(
    ledger: Ledger, connection: Connection, asker: str, envelope: str, seal: str
) -> tuple[list[Form], list[str]]:
    """Forms that have an envelope of which the asker's organization spoke, and the other envelopes that it
    closed with this seal, by what counts now.
    """
    books = ledger.books

    def having(number: str) -> list[Form]:
        meant = number_lookup.forms_with(connection, books, asker, number, own=True)
        forms = [books.form(connection, each) for each in sorted(meant)]
        return [each for each in forms if number in each.envelopes]

    def is_closed_with(number: str) -> bool:
        sealings = [each for form in having(number) for each in form.envelopes[number].sealings]
        return any(each.said.entry.org == asker and each.body.seal == seal for each in sealings)

    spoken = books.spoken(connection, [number_index.seal(mentions.own_seal(asker, seal))], asker)
    named = {each.other for each in spoken if each.other and each.since is not None} - {envelope}
    return having(envelope), [each for each in sorted(named) if is_closed_with(each)]


def sample(ledger: Ledger, connection: Connection, asker: str, number: str, role: str = "") -> SampleAnswer:
    """What is known of a sample number. Raises `Unknown` when nothing is, or the asker may see none of it."""
    on_forms = number_lookup.forms_of(connection, ledger.books, asker, [number])
    spoken = [m for m in ledger.books.spoken(connection, [number], asker) if m.since is not None]
    if not on_forms:  # dropped before it was collected: the form that voids it says what became of it
        on_forms = [m.chain.removeprefix("form/") for m in spoken if m.what == mentions.VOIDED]
    lot_chain = next((m.chain for m in spoken if m.what == mentions.ISSUED), None)
    issued = ledger.books.lot(connection, lot_chain.removeprefix("lot/")) if lot_chain else None
    if on_forms:
        found, judged = form(ledger, connection, asker, on_forms[0], role=role)
        if each := found.samples.get(number):  # an entry that counts for nothing names numbers too
            return SampleAnswer(number, judged.case.lot_of(each) or issued, found, each, judged)
    if issued is None:
        raise visibility.nothing("sample", number)
    return SampleAnswer(number, issued, None, None, None)


def lot(ledger: Ledger, connection: Connection, asker: str, number: str) -> Lot:
    """A lot as it stands. Raises `Unknown`."""
    visibility.require(connection, f"lot/{number}", asker)
    found = ledger.books.lot(connection, number)
    assert found is not None
    return found


def entry(ledger: Ledger, connection: Connection, asker: str, index: int) -> Logged:
    """The entry at a place of the log, with what the asker may read beside it: of organizations nothing.

    Raises `Unknown`.
    """
    found = log.by_index(connection, index, number_index.seen_by(asker))
    if found is None or found.index is None:
        raise visibility.nothing("entry", str(index))
    if found.chain.startswith("org/"):
        return replace(found, disclosures=())
    if found.chain.startswith("form/"):
        opened, *_ = entries = ledger.books.entries(connection, found.chain)
        if not redaction.is_for(opened, asker):
            return replace(
                found, disclosures=redaction.beside(entries[found.n - 1], found.disclosures, asker)
            )
    return found


def nearest(connection: Connection, wanted: str) -> list[str]:
    """Names of founded organizations that look like this one, the likest first.

    At most three, and none that look otherwise.
    """
    alike = SequenceMatcher(b=wanted.lower(), autojunk=False)
    rated = []
    for name in founding.organizations(connection):
        alike.set_seq1(name.lower())
        rated.append((-alike.ratio(), name))
    return [name for rate, name in sorted(rated) if -rate >= _ALIKE][:_MOST]


def organization(connection: Connection, books: Books, wanted: str) -> Organization:
    """The organization of this name: a mistyped one is taken for a true one as soon as it is signed.

    Raises `Unknown` with what was perhaps meant in `facts["nearest"]`.
    """
    found = books.organization(connection, wanted)
    if found is None:
        near = nearest(connection, wanted)
        meant = f" Known names like it: {', '.join(near)}." if near else ""
        raise Unknown(
            f"No organization {wanted!r} was founded here.{meant}", organization=wanted, nearest=near
        )
    return found


def head(connection: Connection, chain: str) -> tuple[int, str | None]:
    """Length and newest leaf hash of a chain."""
    entries = log.chain(connection, chain, after=max(log.chain_length(connection, chain) - 1, 0))
    return (entries[-1].n, entries[-1].leaf) if entries else (0, None)


def _books(ledger: Ledger, as_of: Moment | None) -> tuple[Books, Moment]:
    now = ledger.instant()
    if as_of is None:
        return ledger.books, now
    if as_of > now:
        raise Malformed(
            f"{as_of} is in the future of this ledger: choose an earlier time.",
            code="future",
            as_of=as_of.text(),
        )
    return Past(as_of.instant), as_of


def _judge(
    connection: Connection, books: Books, at: Moment, numbers: set[str], asker: str, role: str
) -> Judged:
    case = redaction.case(books.case(connection, numbers, at, asker), asker)
    case = case.read_by(asker, role) if role else case
    findings = evaluate(case)
    return Judged(case, tuple(findings), verdicts(case, findings, records_state="own log"))
