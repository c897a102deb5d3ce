"""The books: chains read from the database and folded, and the case a question is judged on.

Organizations and lots change rarely and are asked about with every statement, so their newest state is kept
in memory by chain length; a stale one is brought up to date by folding only what is new.

The books as they stood at an instant, so that a check asked then is asked again with the same answer.

Nothing recorded later is in them, whatever it says happened earlier: samples, lots and their recalls, keys,
policies, calendars, and what the rest of the ledger said. What cannot be brought back is a private field that
was erased since: its person is named by key.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Container, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from typing import Any, Final, TypeVar

from sqlalchemy.engine import Connection

from bailee.domain import forms, lots, organizations
from bailee.domain.acts import mentions
from bailee.domain.acts.form import Collected, Opened, Sealed, Shipped, Voided
from bailee.domain.acts.mentions import airbill, glass, lab_number, own_seal
from bailee.domain.acts.privacy import Erased
from bailee.domain.custody import Form
from bailee.domain.lots import Lot
from bailee.domain.moments import Moment
from bailee.domain.organizations import Organization
from bailee.domain.statements import Draft, Recorded
from bailee.errors import Unknown
from bailee.ledger import entry as entries
from bailee.operations import missing
from bailee.rules.case import Bearing, Case, Conflict, Elsewhere, Gap, Run
from bailee.rules.checks.laboratory import collected_again
from bailee.signing import recording
from bailee.store import conflict_table, log, number_index, tree
from bailee.store.log import Logged
from bailee.store.number_index import Mention

S = TypeVar("S", Organization, Lot)

MOST_ALIKE: Final = 40
"""Other forms read to see what became of the same serials or pumps on them.

A serial that is on more of them is none, and a pump that ran on more of them within an hour is none.
"""


MOST_KEPT: Final = 500
"""Lots whose state is kept in memory, and organizations: the newest asked about. Others are read again."""


class Books:
    """Folded states, over one connection at a time.

    Safe to share between threads: a cached state is never changed.
    """

    def __init__(self) -> None:
        self._organizations: dict[str, Organization] = {}
        self._lots: dict[str, Lot] = {}

    def organization(self, connection: Connection, org: str, *, steady: bool = False) -> Organization | None:
        """The organization as it stands now; None when it was never founded.

        `steady`: and until the transaction ends.
        """
        length = log.chain_length(connection, f"org/{org}", steady=steady)
        return _current(
            connection, f"org/{org}", length, self._organizations, organizations.fold, organizations.apply
        )

    def remembered(self, org: str) -> Organization | None:
        """The organization as last read: its keys are right, what was revoked or set since may be missing."""
        return self._organizations.get(f"org/{org}")

    def lot(self, connection: Connection, number: str) -> Lot | None:
        """The lot as it stands now."""
        length = log.chain_length(connection, f"lot/{number}")
        return _current(connection, f"lot/{number}", length, self._lots, lots.fold, lots.apply)

    def form(self, connection: Connection, number: str) -> Form:
        """Custody on one form. Raises `Unknown`."""
        found = self.entries(connection, f"form/{number}")
        if not found:
            raise Unknown(f"There is no form {number} here.", number=number)
        orgs = {org: self.organization(connection, org) for org in {entry.org for entry in found}}
        known = [org for org in orgs.values() if org]
        owners = {kid: one for org in known for kid, one in org.owners.items()}
        return forms.fold(
            number, found, owners, {kid: role for org in known for kid, role in org.roles.items()}
        )

    def entries(self, connection: Connection, chain: str) -> list[Recorded]:
        """Everything recorded on a chain, in order."""
        return [_read(each) for each in log.chain(connection, chain)]

    def spoken(
        self,
        connection: Connection,
        numbers: Sequence[str],
        asker: str,
        said_by: Collection[str] | None = None,
    ) -> list[Mention]:
        """Where these numbers are spoken of, by these organizations or by all, in the order of recording.

        And what of it the asker may see.
        """
        return number_index.of(connection, numbers, asker, said_by)

    def gaps(self, connection: Connection, kids: Sequence[str]) -> dict[str, tuple[Gap, ...]]:
        """By key, the counters that never arrived and that no refused statement explains."""
        return missing.gaps(connection, kids, lambda org: self.organization(connection, org))

    def case(self, connection: Connection, numbers: Iterable[str], at: Moment, asker: str) -> Case:
        """Everything that bears on these forms, for somebody of the organization `asker`."""
        forms = {number: self.form(connection, number) for number in sorted(set(numbers))}
        by_form = [self.lots_of(connection, form) for form in forms.values()]
        found_lots = {number: lot for lots in by_form for number, lot in sorted(lots.items())}
        orgs = self.organizations_of(connection, forms.values(), asker)
        elsewhere = self._elsewhere(connection, forms, found_lots, asker)
        doubted = {number: _conflicts(connection, form) for number, form in forms.items()}
        return Case(at, forms, found_lots, orgs, elsewhere=elsewhere, conflicts=doubted)

    def organizations_of(
        self, connection: Connection, forms: Collection[Form], asker: str
    ) -> dict[str, Organization]:
        """Who speaks on these forms.

        Of who is only named there the asker itself, and those that publish limits and hours because they take
        samples in.
        """
        speakers = {org for form in forms for org in form.speakers}
        known = {org: self.organization(connection, org) for form in forms for org in form.organizations}
        return {
            org: found
            for org, found in known.items()
            if found and (org in speakers or org == asker or found.receives)
        }

    def lots_of(self, connection: Connection, form: Form) -> dict[str, Lot]:
        """Lots that a form leans on: their owner speaks there, or handed the cassette to a key of somebody
        who does.

        Of other lots that somebody names nothing is known here: not to the rules, and not in the file; they
        are not even read, so that the time this takes tells nothing.
        """
        used = [(s.number, s.lot) for s in form.samples.values() if s.lot]
        speaking = [self.organization(connection, org) for org in form.speakers]
        keys = {kid for org in speaking if org for kid in org.keys}
        owners = number_index.parties_of(connection, [f"lot/{lot}" for _, lot in used])
        near = number_index.handed_over(connection, {sample for sample, _ in used}, keys)
        near |= {chain for chain, orgs in owners.items() if orgs & form.speakers}
        found = {
            lot: self.lot(connection, lot) for lot in sorted({lot for _, lot in used if f"lot/{lot}" in near})
        }
        return {
            number: lot
            for sample, number in used
            if (lot := found.get(number))
            and (lot.org in form.speakers or (sample in lot.issued and lot.issued[sample].to in keys))
        }

    def _elsewhere(
        self, connection: Connection, forms: Mapping[str, Form], lots: Mapping[str, Lot], asker: str
    ) -> Elsewhere:
        given, bills = _lab_numbers(forms.values()), _airbills(forms.values())
        seals, read, runs = _seals(forms.values()), _serials(forms.values()), _runs(forms.values())
        whose = _whose(forms.values(), lots)
        names = sorted({*whose, *seals, *given, *bills, *read, *runs})
        parties = frozenset[str]().union(*(form.parties for form in forms.values()))
        said = self.spoken(connection, names, asker, parties)
        spoken = [m for m in said if m.org in whose.get(m.number, parties)]
        seen = [m for m in spoken if m.since is not None]
        others = [m for m in seen if m.chain.removeprefix("form/") not in forms]
        claimed = [m for m in others if m.what == mentions.COLLECTED]
        doubtful = {(m.number, m.chain) for m in others if m.what == mentions.VOIDED}
        asked = sorted({m.chain for m in claimed if (m.number, m.chain) in doubtful})[:MOST_ALIKE]
        voids = {chain: _void(self.form(connection, chain[5:]), parties) for chain in asked}
        claims = (m for m in claimed if m.number not in voids.get(m.chain, ()))
        alike = [
            sorted({m.chain[5:] for m in others if m.what == what})[:MOST_ALIKE]
            for what in (mentions.SERIAL, mentions.RUN)
        ]
        beside = sorted({form for found in alike for form in found})
        taken = list(self._collected(connection, beside, parties))
        return Elsewhere(
            seals=_gather((seals[m.number], m.other) for m in seen if m.what == mentions.SEAL),
            claims=_gather((m.number, m.chain[5:]) for m in claims),
            envelopes=_gather((m.number, m.other) for m in others if m.what == mentions.PACKED),
            gaps=self.gaps(connection, sorted({e.kid for form in forms.values() for e in form.entries})),
            accounted=frozenset(
                m.number
                for m in spoken
                if m.what == mentions.COLLECTED
                or (m.what == mentions.VOIDED and self._answers(connection, m, lots))
            ),
            lab_numbers=_gather((given[m.number], m.other) for m in seen if m.what == mentions.NUMBERED),
            airbills=_gather((bills[m.number], m.other) for m in seen if m.what == mentions.AIRBILL),
            serials=_bearing(taken, set(read.values())),
            runs=_ran(taken, set(runs.values())),
            again=self.again(connection, forms.values(), asker),
            stands=self._stands(connection, forms, asker),
        )

    def again(self, connection: Connection, forms: Iterable[Form], asker: str) -> frozenset[str]:
        """Samples of these forms of which new ones were asked for, and that their firm collected again on a
        form that the asker may see.
        """
        names: dict[str, tuple[str, str]] = {}
        for form in forms:
            firm = form.opened.of(Opened).parties.firm
            for sample in form.samples.values():
                if sample.decision and collected_again.is_asked(sample.decision):
                    name = number_index.again(mentions.again(firm, sample.number))
                    names[name] = (firm, sample.number)
        if not names:
            return frozenset()
        spoken = self.spoken(connection, sorted(names), asker)
        seen = (m for m in spoken if m.what == mentions.REPLACED and m.since is not None)
        chains = sorted({m.chain[5:] for m in seen})[:MOST_ALIKE]
        told = {
            (sample.claims[0].entry.org, sample.replaces[0])
            for number in chains
            for sample in self.form(connection, number).live
            if sample.replaces
        }
        return frozenset(number for firm, number in names.values() if (firm, number) in told)

    def _stands(self, connection: Connection, forms: Mapping[str, Form], asker: str) -> frozenset[str]:
        """Samples of other forms in whose place one was collected on these, and that may have a result of
        their own; where the asker may see them.
        """
        named = {
            sample.replaces: form.parties
            for form in forms.values()
            for sample in form.live
            if sample.replaces and sample.replaces[1] and sample.replaces[1] not in forms
        }
        if not named:
            return frozenset()
        spoken = self.spoken(connection, sorted({number for number, _ in named}), asker)
        seen = {
            (m.number, m.chain[5:])
            for m in spoken
            if m.what == mentions.COLLECTED and m.since is not None
            and m.org in named.get((m.number, m.chain[5:]), ())
        }  # fmt: skip
        others = {chain: self.form(connection, chain) for chain in sorted({c for _, c in seen})[:MOST_ALIKE]}
        return frozenset(
            number
            for number, chain in seen
            if chain in others and collected_again.stands(others[chain].samples[number])
        )

    def _collected(
        self, connection: Connection, forms: Iterable[str], parties: Container[str]
    ) -> Iterator[tuple[str, Recorded, Collected]]:
        """Live samples of these forms as they were collected, by the word of `parties` alone: others on those
        forms decide nothing here.

        Void and correction are for the fold to tell, not for the index.
        """
        for number in forms:
            form = self.form(connection, number)
            void = _void(form, parties)
            for each in _counting(form, parties):
                if isinstance(each.body, Collected) and each.body.sample not in void:
                    yield number, each, each.body

    def _answers(self, connection: Connection, void: Mention, lots: Mapping[str, Lot]) -> bool:
        """Whether who voids an issued cassette may say what became of it: who received its lot, or whoever it
        was issued to.
        """
        issued = [lot for lot in lots.values() if void.number in lot.issued]
        org = self.organization(connection, void.org)
        keys = org.keys if org else ()
        return any(void.org == lot.org or lot.issued[void.number].to in keys for lot in issued)

    def with_seal(self, connection: Connection, case: Case, org: str, seal: str | None) -> Case:
        """The case, knowing also where an organization used a seal number before that it is about to use."""
        if seal is None or case.elsewhere is None:
            return case
        name = own_seal(org, seal)
        spoken = self.spoken(connection, [number_index.seal(name)], org)
        used = _gather((name, m.other) for m in spoken if m.what == mentions.SEAL and m.since is not None)
        return replace(case, elsewhere=replace(case.elsewhere, seals={**case.elsewhere.seals, **used}))

    def with_airbill(self, connection: Connection, case: Case, org: str, name: str) -> Case:
        """The case, knowing also which envelopes of an organization travel under a tracking number about to
        be given (`mentions.airbill`).
        """
        assert case.elsewhere is not None
        found = self.spoken(connection, [number_index.airbill(name)], org)
        used = _gather((name, m.other) for m in found if m.what == mentions.AIRBILL and m.since is not None)
        return replace(case, elsewhere=replace(case.elsewhere, airbills={**case.elsewhere.airbills, **used}))


def _void(form: Form, parties: Container[str]) -> set[str]:
    """Samples of another form that one of these parties voided there, where it was theirs to void."""
    return {each.body.sample for each in _counting(form, parties) if isinstance(each.body, Voided)}


def _counting(form: Form, parties: Container[str]) -> Iterator[Recorded]:
    """What these parties signed on a form, corrections applied, as far as it counted."""
    for_nothing = form.for_nothing
    for each in form.ordered:
        sample = each.body.sample if isinstance(each.body, Collected | Voided) else None
        if each.org in parties and for_nothing.isdisjoint({(each.digest, sample), (each.digest, None)}):
            yield each


def _conflicts(connection: Connection, form: Form) -> list[Conflict]:
    kids = {entry.kid for entry in form.entries}
    found = conflict_table.about(connection, f"form/{form.number}", kids, form.parties)
    return [Conflict(pair.kid, pair.org, pair.seq) for pair in found]


def _whose(forms: Iterable[Form], lots: Mapping[str, Lot]) -> dict[str, frozenset[str]]:
    """By sample number, also of cassettes issued from a lot that was used: whose word counts, which is that
    of the forms that know it.
    """
    found: dict[str, frozenset[str]] = {}
    for form in forms:
        used = {sample.lot for sample in form.samples.values() if sample.lot}
        issued = {number for lot in used & lots.keys() for number in lots[lot].issued}
        for number in {*form.samples, *issued}:
            found[number] = found.get(number, frozenset()) | form.parties
    return found


def _seals(forms: Iterable[Form]) -> dict[str, str]:
    """Seals on the envelopes of these forms, as `mentions.own_seal` names them, by the name under which they
    are indexed.
    """
    said = (s.said for form in forms for e in form.envelopes.values() for s in e.sealings)
    names = (own_seal(each.entry.org, each.of(Sealed).seal) for each in said)
    return {number_index.seal(name): name for name in names}


def _lab_numbers(forms: Iterable[Form]) -> dict[str, str]:
    """Laboratory numbers given on these forms, as `mentions.lab_number` names them, by the name under which
    they are indexed.
    """
    numbered = (each for form in forms for sample in form.samples.values() for each in sample.numbered)
    names = (lab_number(said.entry.org, given) for said, given in numbered)
    return {number_index.lab_number(name): name for name in names}


def _serials(forms: Iterable[Form]) -> dict[str, str]:
    """Serials of live cassettes on these forms, as `mentions.glass` names them, by the name under which they
    are indexed.
    """
    names = (_glass(claim.entry) for form in forms for sample in form.live for claim in sample.claims[:1])
    return {number_index.serial(name): name for name in names if name}


def _glass(entry: Recorded) -> str:
    serial = entry.body.serial if isinstance(entry.body, Collected) else None
    return glass(entry.org, serial) if serial else ""


def _bearing(
    taken: Iterable[tuple[str, Recorded, Collected]], wanted: Container[str]
) -> dict[str, tuple[Bearing, ...]]:
    found: dict[str, list[Bearing]] = {}
    for _, entry, body in taken:
        if (name := _glass(entry)) in wanted:
            found.setdefault(name, []).append(Bearing(body.sample, body.lot))
    return {name: tuple(bearing) for name, bearing in found.items()}


def _runs(forms: Iterable[Form]) -> dict[str, str]:
    """Pumps that ran on these forms, as `mentions.pump` names them, by the names under which their runs are
    indexed.
    """
    claims = [claim for form in forms for sample in form.air for claim in sample.claims[:1]]
    return {
        number_index.run(name): mentions.pump(claim.entry.org, body.pump)
        for claim in claims
        if (body := claim.of(Collected)).pump
        for name in (*mentions.runs(claim.entry.org, body), *mentions.runs_corrected(claim.entry.org, body))
    }


def _ran(
    taken: Iterable[tuple[str, Recorded, Collected]], wanted: Container[str]
) -> dict[str, tuple[Run, ...]]:
    found: dict[str, list[Run]] = {}
    for form, entry, body in taken:
        name = mentions.pump(entry.org, body.pump) if body.pump and body.run_s else ""
        if name in wanted:
            found.setdefault(name, []).append(Run(body.sample, form, body.started, body.run_s))
    return {name: tuple(ran) for name, ran in found.items()}


def _airbills(forms: Iterable[Form]) -> dict[str, str]:
    """Tracking numbers given on these forms, as `mentions.airbill` names them, by the name under which they
    are indexed.
    """
    shipped = (e.shipped for form in forms for e in form.envelopes.values() if e.shipped)
    bodies = ((said.entry.org, said.of(Shipped)) for said in shipped)
    names = (airbill(org, body.carrier, body.tracking) for org, body in bodies if body.tracking)
    return {number_index.airbill(name): name for name in names}


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
        cache.pop(chain, None)
        cache[chain] = known
        with suppress(RuntimeError, StopIteration):  # another thread is just making room
            while len(cache) > MOST_KEPT:
                cache.pop(next(iter(cache)), None)
    return known


def _read(logged: Logged) -> Recorded:
    return recording.own_entry(entries.read(logged.text), logged.leaf, logged.disclosures)


class OneReading(Books):
    """The books for one answer that comes to the same forms again: each chain is read once, over one
    connection.
    """

    def __init__(self, books: Books) -> None:
        super().__init__()
        self._organizations, self._lots = books._organizations, books._lots  # noqa: SLF001 - its own kind
        self._read: dict[str, list[Recorded]] = {}

    def entries(self, connection: Connection, chain: str) -> list[Recorded]:
        """Everything recorded on a chain, in order."""
        if chain not in self._read:
            self._read[chain] = super().entries(connection, chain)
        return self._read[chain]


class Supposed(Books):
    """The books as they would stand with one more entry, which nobody has signed yet."""

    def __init__(
        self, books: Books, connection: Connection, chain: str, draft: Draft[Any], now: Moment
    ) -> None:
        super().__init__()
        self._organizations, self._lots = books._organizations, books._lots  # noqa: SLF001 - its own kind
        before = books.entries(connection, chain)
        newest = max(before, key=lambda each: each.n)
        self.entry = Recorded(
            chain=chain, n=newest.n + 1, leaf="", rec=now.instant, digest="", kid=draft.kid, org=draft.org,
            act=draft.act, at=now, seq=max(each.seq for each in before) + 1, prev=None, after=newest.leaf,
            data=draft.data, body=draft.body,
        )  # fmt: skip
        self._chain = [*before, self.entry]

    def entries(self, connection: Connection, chain: str) -> list[Recorded]:
        """What a chain holds, and would hold."""
        return self._chain if chain == self.entry.chain else super().entries(connection, chain)


class Past(Books):
    """Books up to and including an instant of recording.

    Of the chains in `before` only what came before that entry.
    """

    def __init__(self, at: datetime, before: Mapping[str, int] | None = None) -> None:
        super().__init__()
        self._at = at
        self._lengths = {chain: n - 1 for chain, n in (before or {}).items()}

    def organization(self, connection: Connection, org: str, *, steady: bool = False) -> Organization | None:
        """The organization as it stood then."""
        del steady  # the past does not move
        found = self.entries(connection, f"org/{org}")
        return organizations.fold(found) if found else None

    def lot(self, connection: Connection, number: str) -> Lot | None:
        """The lot as it stood then."""
        found = self.entries(connection, f"lot/{number}")
        return lots.fold(found) if found else None

    def entries(self, connection: Connection, chain: str) -> list[Recorded]:
        """What a chain held then."""
        return super().entries(connection, chain)[: self._length(connection, chain)]

    def spoken(
        self,
        connection: Connection,
        numbers: Sequence[str],
        asker: str,
        said_by: Collection[str] | None = None,
    ) -> list[Mention]:
        """Where the numbers had been spoken of by then, and what of it the asker could see then."""
        said = super().spoken(connection, numbers, asker, said_by)
        places = {(each.chain, n) for each in said for n in (each.n, each.since) if n is not None}
        asked = {place for place in places if place[0] not in self._lengths}
        then = tree.recorded_by(connection, asked, self._at)
        then |= {(chain, n) for chain, n in places - asked if n <= self._lengths[chain]}
        return [
            each if (each.chain, each.since) in then else replace(each, since=None)
            for each in said
            if (each.chain, each.n) in then
        ]

    def gaps(self, connection: Connection, kids: Sequence[str]) -> dict[str, tuple[Gap, ...]]:
        """Counters that had not arrived by then."""
        return missing.gaps(connection, kids, lambda org: self.organization(connection, org), self._at)

    def _length(self, connection: Connection, chain: str) -> int:
        if chain not in self._lengths:
            self._lengths[chain] = tree.length_at(connection, chain, self._at)
        return self._lengths[chain]
