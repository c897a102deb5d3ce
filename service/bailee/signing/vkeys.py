"""Keys of logs and cosigners that come from outside: typed, in a policy, in settings, shown by a service.

With a point of small order as key, one signature that needs no private key fits every text (RFC 8032 5.1.7, the equation): whoever could
bring such a key into a policy could show any log. So these keys pass the same refusal as the keys of statements (`points`).
"""

from __future__ import annotations

from bailee.errors import Forged, Malformed
from bailee.ledger.checkpoint import KeyType, VerifierKey, parse_vkey
from bailee.signing import points


def read(text: str) -> VerifierKey:
    """Read a vkey. Raises `Malformed`: `weak-key`, and what `parse_vkey` raises."""
    key = parse_vkey(text)
    try:
        points.refuse_weak(key.public)
    except Forged as error:
        raise Malformed(
            f"The public key of {key.name} is malformed or weak: anybody could sign in its name. Ask {key.name} for its key in another way.",
            code="weak-key",
            name=key.name,
        ) from error
    return key


def read_log(text: str) -> VerifierKey:
    """Read the vkey of a log. Raises `Malformed` (`vkey`) for one of a cosigner too, and what `read` raises."""
    key = read(text)
    if key.type is not KeyType.ED25519:
        raise Malformed(
            f"{key.name} is the name of a cosigner, and this its key. Bring the key of the log, from its operator.",
            code="vkey",
        )
    return key


def read_cosigner(text: str) -> VerifierKey:
    """Read the vkey of a cosigner. Raises `Malformed` (`vkey`) for one of a log too, and what `read` raises."""
    key = read(text)
    if key.type is not KeyType.COSIGNATURE_V1:
        raise Malformed(f"{key.name} is the key of a log, not of a cosigner.", code="vkey")
    return key
