"""Two statements of one device that cannot both be true: step 7 of the verifier, for what was refused and
kept beside the log.

Whoever exports a bundle may leave them out, and nobody can see that; but nobody can invent one without the
key.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from bailee.domain.organizations import Organization
from bailee.errors import BaileeError, Forged
from bailee.rules.case import Conflict
from bailee.signing import key_lookup, signed_statement
from bailee.signing.signed_statement import SignedStatement, Unverified
from bailee.verify.authorship import Heard
from bailee.verify.evidence import Notes
from bailee.verify.result import PlaceInFile


def check(
    pairs: Iterable[tuple[str, str]],
    origin: str | None,
    organizations: Mapping[str, Organization],
    parties: Collection[str],
    notes: Notes,
) -> tuple[Conflict, ...]:
    """The contradictions that hold, each noted as something to weigh.

    A pair by a key that is not here, by somebody who is no party of the form, or by a key that has ended is
    not checked: nobody's file is broken or flagged by it. One that is checked and does not hold is a fault,
    which only a hand that wrote the file can make.
    """
    found = []
    for one, other in pairs:
        try:
            said = [signed_statement.read(text) for text in (one, other)]
            why = next((why for each in said if (why := _not_weighed(each, organizations, parties))), "")
            if why:
                notes.not_checked("conflicts", f"A contradiction is shown that is not used: {why}.")
                continue
            first, second = (opened(text, origin, organizations) for text in (one, other))
        except BaileeError as error:
            notes.fault(
                7,
                "no-conflict",
                PlaceInFile(),
                f"What is shown as a contradiction of one key is not one: {error.sentence}",
            )
            continue
        if not contradict(first, second):
            notes.fault(
                7, "no-conflict", PlaceInFile(), "What is shown as a contradiction of one key is not one."
            )
            continue
        claims = second.claims
        found.append(Conflict(second.kid, claims.iss, claims.seq))
        notes.remark(
            "conflict",
            PlaceInFile(chain=claims.sub),
            f"The key {second.kid[:8]} of {claims.iss} signed two entries that cannot both follow from the"
            f" earlier ones (number {claims.seq}): a copied key or a restored backup can cause this. What it"
            " signed since is in doubt.",
        )
    return tuple(found)


def _not_weighed(
    statement: Unverified, organizations: Mapping[str, Organization], parties: Collection[str]
) -> str:
    """Why what this key says is no contradiction on this form; empty when it may be one."""
    org, name = statement.claims.iss, f"{statement.kid[:8]} of {statement.claims.iss}"
    organization = organizations.get(org)
    key = organization.keys.get(statement.kid) if organization else None
    if key is None:
        return f"the key {name} is not in this file"
    if org not in parties:
        return f"{org} is not a party of this form"
    if key.revocation:
        return f"the key {name} has ended, and no file shows when the contradiction was sent"
    return ""


def name_ended(heard: Iterable[Heard], organizations: Mapping[str, Organization], notes: Notes) -> None:
    """Say of which keys that speak here no contradiction is weighed any more: whoever has such a key can make
    one.
    """
    spoke = {each.statement.kid: each.statement.claims.iss for each in heard}
    ended = [
        f"{kid[:8]} of {org}"
        for kid, org in sorted(spoke.items(), key=lambda pair: (pair[1], pair[0]))
        if (known := organizations.get(org)) and kid in known.keys and known.keys[kid].revocation
    ]
    if ended:
        keys_said = f"the key {ended[0]}" if len(ended) == 1 else f"the keys {', '.join(ended)}"
        notes.not_checked(
            "ended-keys",
            f"Contradictions sent after the end of {keys_said}: another person may have had"
            f" {('it' if len(ended) == 1 else 'them')} by then, so none is used.",
        )


def contradict(one: SignedStatement, other: SignedStatement) -> bool:
    """Whether one honest device cannot have signed both: one count for two texts, or a count that goes on
    from another text.
    """
    first, second = sorted((one, other), key=lambda each: each.claims.seq)
    if first.kid != second.kid:
        return False
    if first.claims.seq == second.claims.seq:
        return first.signing_input != second.signing_input
    follows = second.claims.seq == first.claims.seq + 1
    return follows and second.claims.prev != first.digest


def opened(text: str, origin: str | None, organizations: Mapping[str, Organization]) -> SignedStatement:
    """The statement, by a key of its organization and for this log. Raises `Forged`, `Malformed`."""
    statement = signed_statement.read(text)
    if origin is not None and statement.claims.aud != origin:
        raise Forged(f"It was made for the log {statement.claims.aud}.", code="wrong-audience")
    public = key_lookup.public_of(statement, organizations.get(statement.claims.iss))
    return signed_statement.open_with(statement, public)
