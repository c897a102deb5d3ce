"""May this be registered? Who may speak on a chain, in which role, and what must come first.

Asked by the service before it registers a statement, and by every verifier afterwards, with the state of the signer's
organisation as it stood. A physical fact from a wrong role is not refused here (rules SI-03 flags it): only acts of administration and
decision are.
"""

from __future__ import annotations

from dataclasses import dataclass

from bailee.domain.fields import Facts
from bailee.domain.form_acts import Opened
from bailee.domain.organisations import PHYSICAL, Organisation, why_not
from bailee.domain.statements import OPENING, split_chain
from bailee.errors import Forged


@dataclass(frozen=True, slots=True)
class Speech:
    """What is about to be registered: whose key says what, where, with which counter."""

    kid: str
    org: str
    chain: str
    act: str
    seq: int
    body: Facts


def require(
    speech: Speech, organisation: Organisation | None, *, length: int, owners: frozenset[str]
) -> None:
    """Raise `Forged` unless the signer may say this on a chain of `length` entries that belongs to `owners`.

    Codes: `unknown-key`, `revoked-key`, `wrong-organisation`, `wrong-form`, `wrong-role`.
    """
    kind, number = split_chain(speech.chain)
    opening = OPENING[kind]
    if (speech.act == opening) != (length == 0):
        said = f"A {kind} begins with {opening}" if length == 0 else f"{speech.chain} has already begun"
        raise Forged(f"{said}: check the number.", code="wrong-form", chain=speech.chain)
    if kind == "org" and number != speech.org:
        raise Forged(
            "Only an organisation itself may speak about its keys and rules.", code="wrong-organisation"
        )
    if speech.act == "founded":
        return
    key = organisation.keys.get(speech.kid) if organisation else None
    if organisation is None or key is None:
        raise Forged(
            f"The key {speech.kid[:8]}… is not enrolled with {speech.org}: ask its administrator to enrol it, then send again.",
            code="unknown-key",
            kid=speech.kid,
        )
    if key.revocation and (kind == "org" or speech.seq > key.revocation.last_good_seq):
        raise Forged(
            f"The key {speech.kid[:8]}… was revoked ({key.revocation.reason}). Sign with your new key.",
            code="revoked-key",
            kid=speech.kid,
        )
    allowed = (
        {speech.body.parties.firm, speech.body.parties.lab} if isinstance(speech.body, Opened) else owners
    )
    if kind != "org" and length and speech.org not in allowed:
        raise Forged(
            f"{speech.org} is not a party of {speech.chain}.", code="wrong-organisation", chain=speech.chain
        )
    if isinstance(speech.body, Opened) and speech.org not in allowed:
        raise Forged("The organisation that opens a form must be a party of it.", code="wrong-organisation")
    not_allowed = why_not(organisation, key, speech.act, speech.body)
    if not_allowed and speech.act not in PHYSICAL:
        raise Forged(not_allowed, code="wrong-role", role=key.role, act=speech.act)
