"""Who speaks in a bundle: steps 6 and 9 of the verifier.

The log is replayed in its own order, so that every statement is judged by the keys and roles that stood when
it was recorded. An organization begins with a root key that the auditor knows from outside; every other key
must have been enrolled at a lower index by a key that could. The same question the service asked before it
registered a statement (`authorization.require`) is asked again here.

Who may say what, as a log goes by: every statement by the keys, roles and parties that stood when it was
recorded.

Asked of one file and of a whole log alike. It is the question that the service asked before it registered the
statement (`authorization.require`), asked again by somebody who need not believe that it did.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from bailee.domain import authorization, organizations
from bailee.domain.acts.form import Forwarded, Opened, Parties, Sealed
from bailee.domain.acts.lot import LotReceived
from bailee.domain.acts.organization import (
    CalendarSet,
    Enrolled,
    Founded,
    Recovered,
    Revoked,
    Rotated,
)
from bailee.domain.opening_hours.calendars import Calendar
from bailee.domain.organizations import Organization
from bailee.domain.statements import Recorded
from bailee.errors import NOT_KNOWN, BaileeError
from bailee.frozen import frozen
from bailee.ledger.base64url import unb64u
from bailee.signing import disclosures, key_lookup, key_proof, keys, recording, signed_statement
from bailee.signing.signed_statement import Unverified
from bailee.verify import records_verdict
from bailee.verify.evidence import ClaimedEntry, Notes, ReadEntry, of_sample
from bailee.verify.result import PlaceInFile

Steps = Callable[[int, int], None]
"""Told how far long work has come: steps done, steps in all."""


def unseen(done: int, in_all: int) -> None:
    """Nobody looks how far it has come."""


@dataclass(slots=True)
class Authorship:
    """The organizations so far, and whose each chain is."""

    organizations: dict[str, Organization] = field(default_factory=dict)
    owners: dict[str, frozenset[str]] = field(default_factory=dict)
    unknown: set[str] = field(default_factory=set)
    """Chains on which something stands that this program does not know."""
    _strong: set[bytes] = field(default_factory=set)
    _alike: dict[frozenset[str], frozenset[str]] = field(default_factory=dict)
    _parties: dict[str, Parties] = field(default_factory=dict)

    def public_of(self, statement: Unverified) -> bytes:
        """The key to check against. Raises `Forged`, `Malformed`.

        The subgroup check takes as long as twenty signatures, so it is made when a key first speaks: one that
        never speaks here can change nothing here.
        """
        public = key_lookup.public_of(statement, self.organizations.get(statement.claims.iss))
        if not key_lookup.brings_key(statement.claims.act) and public not in self._strong:
            keys.public_bytes(keys.jwk_of(public))
            self._strong.add(public)
        return public

    def is_unknown(self, statement: Unverified, error: BaileeError) -> bool:
        """Whether what is wrong here may be no fault.

        It is an act, a member or an edition that this program does not know; or it may rest on one, that
        stands before it on its chain or on that of its signer. What follows on that chain may rest on this.
        """
        claims = statement.claims
        rests = {claims.sub, f"org/{claims.iss}"} & self.unknown and error.code not in _OF_A_SIGNATURE
        if error.code != NOT_KNOWN and not rests:
            return False
        self.unknown.add(claims.sub)
        return True

    def admit(self, entry: Recorded, audience: str) -> None:
        """Judge a statement whose signature holds, then let it take effect.

        Raises `BaileeError`: then it has none.
        """
        # Who may write on a chain whose beginning is missing cannot be known; that it is missing is told by
        # the check of chains.
        owners = self.owners.get(entry.chain, frozenset({entry.org}))
        speech = authorization.Speech(entry.kid, entry.org, entry.chain, entry.act, entry.seq, entry.body)
        known = self.organizations.get(entry.org)
        authorization.require(speech, known, length=entry.n - 1, owners=owners)
        _require_usable(entry, audience)
        match entry.body:
            case Opened() as body:
                self._belongs(entry.chain, {body.parties.firm, body.parties.lab})
                self._parties.setdefault(entry.chain, body.parties)
            case Forwarded() as body if self._answers(entry):
                self.owners[entry.chain] = self._same(owners | {body.to})
            case LotReceived():
                self._belongs(entry.chain, {entry.org})
            case Founded() if known is None:
                self.organizations[entry.org] = organizations.fold([entry])
        if known and entry.chain == f"org/{entry.org}":
            self.organizations[entry.org] = organizations.apply(known, entry)

    def _answers(self, entry: Recorded) -> bool:
        """Whether a laboratory signed this, as far as the beginning of the form is here."""
        parties = self._parties.get(entry.chain)
        return parties is None or parties.answers(entry.org)

    def _belongs(self, chain: str, orgs: set[str]) -> None:
        """A chain is whose its first entry said."""
        self.owners.setdefault(chain, self._same(frozenset(orgs)))

    def _same(self, orgs: frozenset[str]) -> frozenset[str]:
        """One object for the same organizations: a whole log has many forms, and few pairs of firm and
        laboratory.
        """
        return self._alike.setdefault(orgs, orgs)


_OF_A_SIGNATURE: Final = frozenset(
    {"bad-signature", "bad-key", "weak-key", "wrong-key-name", "bad-disclosure", "wrong-disclosure"}
)
"""What no edition makes good."""


def _require_usable(entry: Recorded, audience: str) -> None:
    """What a key or a calendar brings must be usable before anybody relies on it.

    Raises `BaileeError`.
    """
    match entry.body:
        case Enrolled() | Rotated() | Recovered() as body:
            public = unb64u(body.jwk.x)
            keys.require_name(public, body.kid)
            key_proof.check(body.proof, body.kid, public, entry.org, audience)
        case CalendarSet() as body:
            Calendar.from_data(body.calendar)


@frozen
class Heard:
    """A statement whose signature holds, by a key of the organization it names.

    `recorded` is None when it may not count.
    """

    item: ReadEntry
    statement: Unverified
    digest: str
    recorded: Recorded | None
    hidden: int

    @property
    def place(self) -> PlaceInFile:
        """Where to look for it, with the sample it is about when it names one."""
        return of_sample(self.item.place, self.statement)


@dataclass(slots=True)
class Replay:
    """The organizations as the log goes by. `ended` gives the log index at which each key ended."""

    roots: Mapping[str, str]
    notes: Notes
    authorship: Authorship = field(default_factory=Authorship)
    ended: dict[tuple[str, str], int] = field(default_factory=dict)
    sealed_under: dict[str, Organization] = field(default_factory=dict)
    unpinned: set[str] = field(default_factory=set)

    @property
    def organizations(self) -> dict[str, Organization]:
        """Each organization as it stands by now."""
        return self.authorship.organizations

    def hear(self, told: Sequence[ClaimedEntry], form: str, steps: Steps = unseen) -> list[Heard]:
        """Every statement whose signature holds, in the order of the log; the others are noted."""
        found = []
        for number, each in enumerate(told):
            steps(number, len(told))
            heard = self._hear(each)
            if heard:
                found.append(heard)
                if (
                    heard.recorded
                    and heard.recorded.chain == form
                    and isinstance(heard.recorded.body, Sealed)
                ):
                    self.sealed_under = dict(self.organizations)
        return found

    def _hear(self, told: ClaimedEntry) -> Heard | None:
        item, statement = told.item, told.statement
        try:
            signed_statement.open_with(statement, self.authorship.public_of(statement))
        except BaileeError as error:
            self._refuse(told, error)
            return None
        fields = self._reveal(item, statement)
        hidden = len(statement.claims.private) - len(fields)
        digest = signed_statement.digest(statement.text)
        try:
            recorded = recording.recorded(item.entry, item.leaf, statement, fields)
            self._admit(recorded, statement.claims.aud, item)
        except BaileeError as error:
            self._refuse(told, error)
            return Heard(item, statement, digest, None, hidden)
        return Heard(item, statement, digest, recorded, hidden)

    def _refuse(self, told: ClaimedEntry, error: BaileeError) -> None:
        """Note why a statement does not count; of what is not known here nobody is accused."""
        if self.authorship.is_unknown(told.statement, error):
            self.notes.unknown.append((told.place, told.statement.claims.act))
        else:
            self.notes.fault(6, error.code, told.place, error.sentence)

    def _reveal(self, item: ReadEntry, statement: Unverified) -> dict[str, str]:
        """Step 9: private fields beside the statement must be the ones it was signed with."""
        told = item.placed.disclosures
        if not told:
            return {}
        claims = statement.claims
        try:
            return disclosures.reveal(told, claims.private, signed_statement.public_names(claims))
        except BaileeError as error:
            self.notes.fault(9, error.code, of_sample(item.place, statement), error.sentence)
            return {}

    def _admit(self, entry: Recorded, audience: str, item: ReadEntry) -> None:
        """Let the statement take effect, and note what an auditor must know of it.

        Raises `BaileeError` when it may not count.
        """
        known = self.organizations.get(entry.org)
        self.authorship.admit(entry, audience)
        if known is None and isinstance(entry.body, Founded):
            self._weigh_root(entry, item)
        if known is None or entry.chain != f"org/{entry.org}":
            return
        organization = self.organizations[entry.org]
        if entry.n in organization.ignored:
            self.notes.remark("without-effect", item.place, f"This {entry.act} entry changes nothing.")
        for kid in _may_end(entry, known):
            key = organization.keys.get(kid)
            if key and key.revocation and key.revocation.n == entry.n:
                self.ended[entry.org, kid] = item.index

    def _weigh_root(self, entry: Recorded, item: ReadEntry) -> None:
        pinned = self.roots.get(entry.org)
        if pinned is None:
            self.unpinned.add(entry.org)
            self.notes.not_checked(
                "root",
                f"Root of {entry.org} not given: this organization could have been founded by any person with"
                f" the key {entry.kid}. Get its root from the organization itself and verify again.",
            )
        elif pinned != entry.kid:
            self.notes.other_key(
                "other-root", item.place, records_verdict.other_root(entry.org, entry.kid, pinned)
            )

    def weigh_keys(self, heard: Iterable[Heard], affirmed: Mapping[str, Recorded]) -> None:
        """Mark what a key said that was later revoked: recorded after its end, or while it may have been in
        other hands.
        """
        for each in heard:
            entry = each.recorded
            organization = self.organizations.get(entry.org) if entry else None
            key = organization.keys.get(entry.kid) if organization and entry else None
            if entry is None or key is None or key.revocation is None:
                continue
            if f"org/{entry.org}" in self.authorship.unknown:  # who knows whether it has ended
                continue
            why = authorization.doubt(key, entry, late=each.item.index > self.ended[entry.org, entry.kid])
            if why:  # what lies beyond the last good count after the end was refused when it was heard
                code, said = _WEIGHED[why]
                by = affirmed.get(each.digest)
                said = said.format(reason=key.revocation.reason)
                said += f" Affirmed in entry {by.n}." if by else " It is not affirmed."
                self.notes.remark(code, each.place, said)


def _may_end(entry: Recorded, known: Organization) -> Iterable[str]:
    """The keys that this entry of an organization may bring to an end."""
    match entry.body:
        case Revoked() as body:
            return (body.kid,)
        case Rotated():
            return (entry.kid,)
        case Recovered():
            return known.keys
    return ()


_WEIGHED: Final = {
    "late": (
        "late-key",
        "Recorded after this key was revoked ({reason}), within the entries its owner confirmed.",
    ),
    "in_doubt": (
        "doubtful-key",
        "Recorded while this key may already have been in other hands ({reason}).",
    ),
    "beyond": ("doubtful-key", "Recorded after this key had ended ({reason})."),
}
