"""May this key say this? Asked before it is signed, so that no counter is lost to a refusal.

The answer is that of the moment: what is refused and what is taken is decided when the statement comes
(`operations.register`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from bailee.domain import organizations, statements
from bailee.domain.acts.privacy import Erased
from bailee.errors import BaileeError
from bailee.operations import erasing
from bailee.operations.ledger import Ledger
from bailee.operations.register import NOT_ADMITTED, require_own_key, require_own_result
from bailee.operations.visibility import Asker
from bailee.signing import key_proof, keys
from bailee.store.founding import is_admitted

PROOF_LASTS_S: Final = 3600
"""So long a proof shows that somebody holds the key now: a device's clock may be wrong by that (common
practice, no source)."""
_STALE: Final = (
    "The proof that this key is held was not made within the last hour: check the clock of the device, and"
    " make it again."
)


def why_not(ledger: Ledger, asker: Asker, chain: str, act: str, data: Mapping[str, Any]) -> str:
    """Why the asker's role may not say this, whose a key is already that it brings, or who holds what would
    be erased; empty when it may.

    Raises `BadStatement`.
    """
    body = statements.parse(chain, act, data)
    with ledger.database.reading() as connection:
        organization = ledger.books.organization(connection, asker.org)
        key = organization.keys.get(asker.kid) if organization else None
        if organization is None or key is None:
            return f"The key {asker.kid[:8]}… is not enrolled with {asker.org}."
        if refused := organizations.why_not(organization, key, act, body):
            return refused
        try:
            require_own_key(body, organization, ledger.register.own_kid)
            require_own_result(connection, ledger.books, asker.org, chain, body)
            if isinstance(body, Erased):
                erasing.require_allowed(connection, ledger.books, asker.org, chain, body)
        except BaileeError as error:
            return error.sentence
    return ""


def why_not_found(ledger: Ledger, org: str, jwk: Mapping[str, Any], proof: str) -> str:
    """Why the holder of this key may not found this organization; empty when it may.

    Whoever does not show that they hold the key hears what everybody hears whose key was not admitted, and
    nobody else learns which names are taken; nor does who found an old proof.
    """
    try:
        public = keys.public_bytes(dict(jwk))
        kid = keys.kid_of(public)
        made = key_proof.check(proof, kid, public, org, ledger.settings.origin)
    except BaileeError:
        return NOT_ADMITTED.format(kid="the one it calls itself by")
    if abs(made - ledger.now().epoch_seconds) > PROOF_LASTS_S:
        return _STALE
    with ledger.database.reading() as connection:
        if ledger.settings.founding != "open" and not is_admitted(connection, kid):
            return NOT_ADMITTED.format(kid=kid)
        taken = ledger.books.organization(connection, org) is not None
    return f"An organization {org} has been founded here already: check the name." if taken else ""
