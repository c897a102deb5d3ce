"""The books: chains read from the database and folded, and the case a question is judged on.

Organisations and lots change rarely and are asked about with every statement, so their newest state is kept in memory by chain length; a
stale one is brought up to date by folding only what is new.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Final, TypeVar

from sqlalchemy.engine import Connection

from bailee.domain import forms, lots, organisations
from bailee.domain.custody import Form, Sample
from bailee.domain.form_acts import Decision, Opened, Shipped
from bailee.domain.lots import Lot
from bailee.domain.moments import Moment
from bailee.domain.organisations import Organisation
from bailee.domain.privacy_acts import Erased
from bailee.domain.statements import Recorded
from bailee.errors import Unknown
from bailee.ledger import entry as entries
from bailee.rules.case import Bearing, Case, Conflict, Elsewhere, airbill, glass
from bailee.signing import recording
from bailee.store import conflicts, log, mentions
from bailee.store.log import Logged
from bailee.store.mentions import Mention

S = TypeVar("S", Organisation, Lot)

MOST_ALIKE: Final = 40
"""Other forms read to see what became of the same serials on them. A serial that is on more of them is none."""


class Books:
    """Folded states, over one connection at a time. Safe to share between threads: a cached state is never changed."""

    def __init__(self) -> None:
        self._organisations: dict[str, Organisation] = {}
        self._lots: dict[str, Lot] = {}

    def organisation(self, connection: Connection, org: str, *, steady: bool = False) -> Organisation | None:
        """The organisation as it stands now; None when it was never founded. `steady`: and until the transaction ends."""
        length = log.chain_length(connection, f"org/{org}", steady=steady)
        return _current(
            connection, f"org/{org}", length, self._organisations, organisations.fold, organisations.apply
        )

    def remembered(self, org: str) -> Organisation | None:
        """The organisation as last read: its keys are right, what was revoked or set since may be missing."""
        return self._organisations.get(f"org/{org}")

    def lot(self, connection: Connection, number: str) -> Lot | None:
        """The lot as it stands now."""
        length = log.chain_length(connection, f"lot/{number}")
        return _current(connection, f"lot/{number}", length, self._lots, lots.fold, lots.apply)

    def form(self, connection: Connection, number: str) -> Form:
        """Custody on one form. Raises `Unknown`."""
        found = self.entries(connection, f"form/{number}")
        if not found:
            raise Unknown(f"There is no form {number} here.", number=number)
        orgs = {org: self.organisation(connection, org) for org in {entry.org for entry in found}}
        known = [org for org in orgs.values() if org]
        owners = {kid: one for org in known for kid, one in org.owners.items()}
        return forms.fold(
            number, found, owners, {kid: role for org in known for kid, role in org.roles.items()}
        )

    def entries(self, connection: Connection, chain: str) -> list[Recorded]:
        """Everything recorded on a chain, in order."""
        return [_read(each) for each in log.chain(connection, chain)]

    def spoken(self, connection: Connection, numbers: Sequence[str]) -> list[Mention]:
        """Where these numbers are spoken of."""
        return mentions.of(connection, numbers)

    def gaps(self, connection: Connection, kids: Sequence[str]) -> dict[str, tuple[int, ...]]:
        """By key, the counters that never arrived."""
        return log.missing_counters(connection, kids)

    def case(self, connection: Connection, numbers: Iterable[str], at: Moment) -> Case:
        """Everything that bears on these forms."""
        forms = {number: self.form(connection, number) for number in sorted(set(numbers))}
        wanted = {s.collected.lot for form in forms.values() for s in form.samples.values() if s.collected}
        found_lots = {number: lot for number in wanted if (lot := self.lot(connection, number))}
        signers = {entry.org for form in forms.values() for entry in form.entries}
        named = {org for form in forms.values() for org in _parties(form)}
        orgs = {org: found for org in signers | named if (found := self.organisation(connection, org))}
        elsewhere = self._elsewhere(connection, forms, found_lots.values())
        doubted = {number: _conflicts(connection, form) for number, form in forms.items()}
        return Case(at, forms, found_lots, orgs, elsewhere=elsewhere, conflicts=doubted)

    def _elsewhere(self, connection: Connection, forms: Mapping[str, Form], lots: Iterable[Lot]) -> Elsewhere:
        samples = {number for form in forms.values() for number in form.samples}
        issued = {number for lot in lots for number in lot.issued}
        sealings = [s.body for form in forms.values() for e in form.envelopes.values() for s in e.sealings]
        seals = {body.seal for body in sealings}
        given, bills, read = _lab_numbers(forms.values()), _airbills(forms.values()), _serials(forms.values())
        spoken = self.spoken(connection, sorted({*samples, *issued, *seals, *given, *bills, *read}))
        others = [m for m in spoken if m.chain.removeprefix("form/") not in forms]
        voids = _gather((m.number, m.chain[5:]) for m in others if m.what == "voided")
        claims = _gather((m.number, m.chain[5:]) for m in others if m.what == "collected")
        return Elsewhere(
            seals=_gather((m.number, m.other) for m in spoken if m.what == "seal"),
            claims={
                number: standing
                for number, found in claims.items()
                if (standing := tuple(form for form in found if form not in voids.get(number, ())))
            },
            envelopes=_gather((m.number, m.other) for m in others if m.what == "packed"),
            gaps=self.gaps(connection, sorted({e.kid for form in forms.values() for e in form.entries})),
            voids=voids,
            lab_numbers=_gather((given[m.number], m.other) for m in spoken if m.what == "numbered"),
            airbills=_gather((bills[m.number], m.other) for m in spoken if m.what == "airbill"),
            serials=self._bearing(
                connection, {m.chain[5:] for m in others if m.what == "serial"}, set(read.values())
            ),
        )

    def _bearing(
        self, connection: Connection, forms: Iterable[str], wanted: Container[str]
    ) -> dict[str, tuple[Bearing, ...]]:
        """Live samples of these forms whose serial is wanted: void and correction are for the fold to know, not for the index."""
        found: dict[str, list[Bearing]] = {}
        for number in sorted(forms)[:MOST_ALIKE]:
            for sample in self.form(connection, number).live:
                name = _glass(sample)
                if name in wanted:
                    found.setdefault(name, []).append(Bearing(sample.number, sample.taken.lot))
        return {name: tuple(bearing) for name, bearing in found.items()}

    def with_seal(self, connection: Connection, case: Case, seal: str | None) -> Case:
        """The case, knowing also where a seal number about to be used was used before."""
        if seal is None or case.elsewhere is None:
            return case
        used = _gather((m.number, m.other) for m in self.spoken(connection, [seal]) if m.what == "seal")
        return replace(case, elsewhere=replace(case.elsewhere, seals={**case.elsewhere.seals, **used}))

    def with_airbill(self, connection: Connection, case: Case, name: str) -> Case:
        """The case, knowing also which envelopes travel under a tracking number about to be given (`bailee.rules.case.airbill`)."""
        assert case.elsewhere is not None
        found = self.spoken(connection, [mentions.airbill(name)])
        used = _gather((name, m.other) for m in found if m.what == "airbill")
        return replace(case, elsewhere=replace(case.elsewhere, airbills={**case.elsewhere.airbills, **used}))


def _conflicts(connection: Connection, form: Form) -> list[Conflict]:
    found = conflicts.about(connection, f"form/{form.number}", {entry.kid for entry in form.entries})
    return [Conflict(pair.kid, pair.org, pair.seq) for pair in found]


def _parties(form: Form) -> Sequence[str]:
    return form.opened.of(Opened).parties.firm, *form.laboratories


def _lab_numbers(forms: Iterable[Form]) -> dict[str, str]:
    """Laboratory numbers given on these forms, as `quill-lab/Q-17`, by the name under which they are indexed."""
    return {
        mentions.lab_number(said.entry.org, given): f"{said.entry.org}/{given}"
        for form in forms
        for sample in form.samples.values()
        for said in sample.decisions
        for given in said.of(Decision).lab_numbers.values()
    }


def _serials(forms: Iterable[Form]) -> dict[str, str]:
    """Serials of live cassettes on these forms, as `bailee.rules.case.glass` names them, by the name under which they are indexed."""
    names = (_glass(sample) for form in forms for sample in form.live)
    return {mentions.serial(name): name for name in names if name}


def _glass(sample: Sample) -> str:
    serial = sample.taken.serial
    return glass(sample.claims[0].entry.org, serial) if serial else ""


def _airbills(forms: Iterable[Form]) -> dict[str, str]:
    """Tracking numbers given on these forms, as `bailee.rules.case.airbill` names them, by the name under which they are indexed."""
    shipped = (e.shipped for form in forms for e in form.envelopes.values() if e.shipped)
    bodies = ((said.entry.org, said.of(Shipped)) for said in shipped)
    names = (airbill(org, body.carrier, body.tracking) for org, body in bodies if body.tracking)
    return {mentions.airbill(name): name for name in names}


def _gather(pairs: Iterable[tuple[str, str | None]]) -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    for number, other in pairs:
        if other is not None and other not in found.setdefault(number, []):
            found[number].append(other)
    return {number: tuple(others) for number, others in found.items()}


def _current(
    connection: Connection,
    chain: str,
    length: int,
    cache: dict[str, S],
    fold: Callable[[Iterable[Recorded]], S],
    apply: Callable[[S, Recorded], S],
) -> S | None:
    known = cache.get(chain)
    if known is None or known.length > length:
        found = [_read(each) for each in log.chain(connection, chain)]
        known = fold(found) if found else None
    elif known.length < length:
        news = [_read(each) for each in log.chain(connection, chain, after=known.length)]
        if any(isinstance(each.body, Erased) for each in news):  # a name read before must be forgotten too
            known = fold([_read(each) for each in log.chain(connection, chain)])
        else:
            for each in news:
                known = apply(known, each)
    if known is not None:
        cache[chain] = known
    return known


def _read(logged: Logged) -> Recorded:
    return recording.own_entry(entries.read(logged.text), logged.leaf, logged.disclosures)
