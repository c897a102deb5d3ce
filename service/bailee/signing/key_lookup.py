"""Whose voice is this? The public key that a statement must be checked against.

Most keys are those that an organization's chain has enrolled. Two acts bring their own, because no other key
could vouch for it: `founded`, whose key outsiders pin, and `recovered`, whose key was named at the founding
by its thumbprint alone.
"""

from __future__ import annotations

from bailee.domain.acts.table import ROWS
from bailee.domain.organizations import Organization
from bailee.errors import Forged
from bailee.ledger.base64url import unb64u
from bailee.signing import keys
from bailee.signing.signed_statement import Unverified


def public_of(unverified: Unverified, organization: Organization | None) -> bytes:
    """The raw public key.

    Raises `Forged` (`unknown-key`, `wrong-key-name`, `weak-key`), `Malformed` (`bad-key`).

    A key that a statement brings is checked to be strong; an enrolled one was checked when it was enrolled.
    """
    claims = unverified.claims
    row = ROWS.get(claims.act)
    is_recovery = organization is not None and organization.recovery == unverified.kid
    if row and row.brings_key and (row.opens or is_recovery):
        return _brought(claims.data.get(row.brings_key), unverified.kid)
    key = organization.keys.get(unverified.kid) if organization else None
    if key is None:
        raise unknown(unverified)
    return unb64u(key.x)


def brings_key(act: str) -> bool:
    """Whether a statement of this act, which may be one that nobody knows, holds the key it is checked
    against.
    """
    row = ROWS.get(act)
    return bool(row and row.brings_key)


def unknown(unverified: Unverified) -> Forged:
    """No key that is enrolled there signed this."""
    return Forged(
        f"The key {unverified.kid[:8]}… was not enrolled with {unverified.claims.iss} at that point: its"
        " administrator has to enroll it first. If it is enrolled, the entry was damaged on the way:"
        " send it again.",
        code="unknown-key",
        kid=unverified.kid,
    )


def _brought(jwk: object, kid: str) -> bytes:
    public = keys.public_bytes(jwk)
    keys.require_name(public, kid)
    return public
