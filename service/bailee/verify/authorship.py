"""Who may say what, as a log goes by: every statement by the keys, roles and parties that stood when it was recorded.

Asked of one file and of a whole log alike. It is the question that the service asked before it registered the statement
(`standing.require`), asked again by somebody who need not believe that it did.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from bailee.domain import organisations, standing
from bailee.domain.calendars import Calendar
from bailee.domain.form_acts import Forwarded, Opened
from bailee.domain.lot_acts import LotReceived
from bailee.domain.organisation_acts import CalendarSet, Enrolled, Founded, PolicySet, Recovered, Rotated
from bailee.domain.organisations import Organisation
from bailee.domain.policy import Policy
from bailee.domain.statements import Recorded
from bailee.ledger.base64url import unb64u
from bailee.signing import key_proof, keys, voices
from bailee.signing.signed_statement import Unverified


@dataclass(slots=True)
class Authorship:
    """The organisations so far, and whose each chain is."""

    organisations: dict[str, Organisation] = field(default_factory=dict)
    owners: dict[str, frozenset[str]] = field(default_factory=dict)
    _strong: set[bytes] = field(default_factory=set)
    _alike: dict[frozenset[str], frozenset[str]] = field(default_factory=dict)

    def public_of(self, statement: Unverified) -> bytes:
        """The key to check against. Raises `Forged`, `Malformed`.

        The subgroup check takes as long as twenty signatures, so it is made when a key first speaks: one that never speaks
        here can change nothing here.
        """
        public = voices.public_of(statement, self.organisations.get(statement.claims.iss))
        if statement.claims.act not in voices.BRING_THEIR_KEY and public not in self._strong:
            keys.public_bytes(keys.jwk_of(public))
            self._strong.add(public)
        return public

    def admit(self, entry: Recorded, audience: str) -> None:
        """Judge a statement whose signature holds, then let it take effect. Raises `BaileeError`: then it has none."""
        # Who may write on a chain whose beginning is missing cannot be known; that it is missing is told by the check of chains.
        owners = self.owners.get(entry.chain, frozenset({entry.org}))
        speech = standing.Speech(entry.kid, entry.org, entry.chain, entry.act, entry.seq, entry.body)
        known = self.organisations.get(entry.org)
        standing.require(speech, known, length=entry.n - 1, owners=owners)
        _require_usable(entry, audience)
        match entry.body:
            case Opened() as body:
                self._belongs(entry.chain, {body.parties.firm, body.parties.lab})
            case Forwarded() as body:
                self.owners[entry.chain] = self._same(owners | {body.to})
            case LotReceived():
                self._belongs(entry.chain, {entry.org})
            case Founded() if known is None:
                self.organisations[entry.org] = organisations.fold([entry])
        if known and entry.chain == f"org/{entry.org}":
            self.organisations[entry.org] = organisations.apply(known, entry)

    def _belongs(self, chain: str, orgs: set[str]) -> None:
        """A chain is whose its first entry said."""
        self.owners.setdefault(chain, self._same(frozenset(orgs)))

    def _same(self, orgs: frozenset[str]) -> frozenset[str]:
        """One object for the same organisations: a whole log has many forms, and few pairs of firm and laboratory."""
        return self._alike.setdefault(orgs, orgs)


def _require_usable(entry: Recorded, audience: str) -> None:
    """What a key, a policy or a calendar brings must be usable before anybody relies on it. Raises `BaileeError`."""
    match entry.body:
        case Enrolled() | Rotated() | Recovered() as body:
            public = unb64u(body.jwk.x)
            keys.require_name(public, body.kid)
            key_proof.check(body.proof, body.kid, public, entry.org, audience)
        case PolicySet() as body:
            Policy.from_data(body.policy)
        case CalendarSet() as body:
            Calendar.from_data(body.calendar)
