"""May this be registered? Who may speak on a chain, in which role, and what must come first.

Asked by the service before it registers a statement, and by every verifier afterwards, with the state of the
signer's organization as it stood. A physical fact from a wrong role is not refused here (rules SI-03 flags
it): only acts of administration and decision are.

And afterwards, when a key has ended: does what it said still stand? `doubt` is the one answer, for rules and
verifier alike.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from bailee.domain.acts.form import Affirmed, Copied, Opened
from bailee.domain.acts.organization import Founded, Recovered
from bailee.domain.acts.table import OPENING, ROWS
from bailee.domain.facts import Facts
from bailee.domain.moments import Moment
from bailee.domain.organizations import Key, Organization, Revocation, why_not
from bailee.domain.statements import Recorded, split_chain
from bailee.errors import Forged
from bailee.frozen import frozen

Doubt = Literal["", "late", "in_doubt", "beyond"]
"""Why a statement of a key that has ended does not stand by itself; empty when it does."""


@frozen
class Speech:
    """What is about to be registered: whose key says what, where, with which counter."""

    kid: str
    org: str
    chain: str
    act: str
    seq: int
    body: Facts


def require(
    speech: Speech, organization: Organization | None, *, length: int, owners: frozenset[str]
) -> None:
    """Raise `Forged` unless the signer may say this on a chain of `length` entries that belongs to `owners`.

    Codes: `unknown-key`, `revoked-key`, `wrong-organization`, `wrong-form`, `wrong-role`.
    """
    kind, number = split_chain(speech.chain)
    opening = OPENING[kind].name
    key = organization.keys.get(speech.kid) if organization else None
    if (
        not isinstance(speech.body, Founded)
        and key
        and key.revocation
        and not isinstance(speech.body, Recovered)
    ):
        _require_before_its_end(
            speech, kind, key.revocation
        )  # first: with a found key nobody learns which numbers there are
    if kind != "org" and speech.act != opening and speech.org not in owners:  # whether or not there is one
        raise Forged(
            f"There is no {kind} {number} here that {speech.org} is a party of: check the number.",
            code="wrong-organization",
            chain=speech.chain,
        )
    if speech.act == opening and length:
        raise begun(speech.chain)
    if speech.act != opening and not length:
        raise Forged(
            f"A {kind} begins with {opening}: check the number.", code="wrong-form", chain=speech.chain
        )
    if kind == "org" and number != speech.org:
        raise Forged(
            "Only an organization itself may sign for its keys and rules.", code="wrong-organization"
        )
    if isinstance(speech.body, Founded) or (
        isinstance(speech.body, Recovered) and _may_recover(speech, organization)
    ):
        return
    if organization is None or key is None:
        raise Forged(
            f"The key {speech.kid[:8]}… is not enrolled with {speech.org}: ask its administrator to enroll"
            " it, then send again.",
            code="unknown-key",
            kid=speech.kid,
        )
    if isinstance(speech.body, Opened) and speech.org not in (
        speech.body.parties.firm,
        speech.body.parties.lab,
    ):
        raise Forged("The organization that opens a form must be a party of it.", code="wrong-organization")
    not_allowed = why_not(organization, key, speech.act, speech.body)
    if not_allowed and not ROWS[speech.act].physical:
        raise Forged(not_allowed, code="wrong-role", role=key.role, act=speech.act)


def require_own_result(body: Facts, org: str, opening: Facts | None) -> None:
    """Raise `Forged` ("wrong-organization") where the sampling firm would issue a result: `opening` is what
    the form began with. What was recorded before this was asked stays, and is no laboratory's result.
    """
    is_result = isinstance(body, Copied) and body.of == "result"
    if is_result and isinstance(opening, Opened) and not opening.parties.answers(org):
        raise Forged(
            f"Only a laboratory of the form issues its result, and {org} is the sampling firm: sign a copy of"
            " the record, or ask the laboratory.",
            code="wrong-organization",
        )


def begun(chain: str) -> Forged:
    """What `chain` would have begun with comes too late."""
    return Forged(f"{chain} has already begun: check the number.", code="wrong-form", chain=chain)


def _require_before_its_end(speech: Speech, kind: str, ended: Revocation) -> None:
    if kind == "org" or speech.seq > ended.last_good_seq:
        raise Forged(
            f"The key {speech.kid[:8]}… was revoked ({ended.reason}). Sign with your new key.",
            code="revoked-key",
            kid=speech.kid,
        )


def doubt(key: Key, entry: Recorded, *, late: bool | None = None) -> Doubt:
    """Whether an entry of this key stands by itself, by the end that the key has come to (40 CFR 3.2000(b):
    valid when signed).

    `late`: recorded after that end, where the place in the log tells; otherwise the recorded times do.

    - recorded before the loss, or before any report within the count the owner vouches for: it stands;
    - recorded between loss and report, beyond that count: `in_doubt`, somebody else may have signed it;
    - recorded after the report, within that count: `late`, which honest basements cause; of a key that its
      owner exchanged it stands;
    - recorded after the report, beyond that count: `beyond`.
    """
    ended = key.revocation
    if ended is None:
        return ""
    within = entry.seq <= ended.last_good_seq
    if entry.rec > ended.rec if late is None else late:
        return "beyond" if not within else "" if ended.successor else "late"
    return "" if within or entry.rec < Moment.parse(ended.since).instant else "in_doubt"


def affirmed(
    entries: Iterable[Recorded], organizations: Mapping[str, Organization]
) -> Mapping[str, Recorded]:
    """By digest of a statement: the affirmation of it that counts, made with another key of its organization
    which itself stands; that of its own person before those of others.
    """
    said = list(entries)
    by_digest = {entry.digest: entry for entry in said}
    found: dict[str, Recorded] = {}
    for entry in said:
        organization = organizations.get(entry.org)
        key = organization.keys.get(entry.kid) if organization else None
        if isinstance(entry.body, Affirmed) and organization and key and not doubt(key, entry):
            for digest in entry.body.statements:
                target = by_digest.get(digest)
                if target and target.org == entry.org and target.kid != entry.kid:
                    owners, before = organization.owners, found.get(digest)
                    owner = owners.get(target.kid)
                    if before is None or owners[entry.kid] == owner or owners[before.kid] != owner:
                        found[digest] = entry
    return found


def _may_recover(speech: Speech, organization: Organization | None) -> bool:
    """Whether the recovery key speaks. Raises `Forged` (`unknown-key`) when another does."""
    if organization is None or organization.recovery != speech.kid:
        raise Forged(
            f"The key {speech.kid[:8]}… is not the recovery key that {speech.org} was founded with: take that"
            " one from its safe place.",
            code="unknown-key",
            kid=speech.kid,
        )
    return True
