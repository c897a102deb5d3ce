"""Keys of logs and cosigners that come from outside: typed, in a policy, in settings, shown by a service.

Typed as a vkey (C2SP signed-note), or as `NAME=` and the five lines of the 32 bytes of the public key
(`ledger.fingerprint`), which say which of them is wrong; whether it is a log's or a cosigner's then follows
from where it is typed.

With a point of small order as key, one signature that needs no private key fits every text (RFC 8032 5.1.7,
the equation): whoever could bring such a key into a policy could show any log. So these keys pass the same
refusal as the keys of statements (`points`).
"""

from __future__ import annotations

from bailee.errors import Forged, Malformed
from bailee.ledger import fingerprint
from bailee.ledger.checkpoint import KeyType, VerifierKey, parse_vkey
from bailee.signing import points


def read(text: str, kind: KeyType) -> VerifierKey:
    """Read a key of either writing; five lines make one of `kind`, a vkey tells its own.

    Raises `Malformed`: `weak-key`, `key-line` naming the line that is wrong, and what `parse_vkey` raises.
    """
    name, _, typed = text.partition("=")
    if "+" not in name and fingerprint.looks_typed(typed):
        key = VerifierKey(name.strip(), kind, fingerprint.read_lines(typed))
    else:
        key = parse_vkey(text)
    try:
        points.refuse_weak(key.public)
    except Forged as error:
        raise Malformed(
            f"The public key of {key.name} is malformed or weak: no private key is needed to sign in its"
            f" name. Ask {key.name} for its key in another way.",
            code="weak-key",
            name=key.name,
        ) from error
    return key


def lines(key: VerifierKey) -> tuple[str, ...]:
    """The key as people read it aloud and type it, under its name."""
    return fingerprint.lines(key.public)


def read_log(text: str) -> VerifierKey:
    """Read the key of a log.

    Raises `Malformed` (`vkey`) for one of a cosigner too, and what `read` raises.
    """
    key = read(text, KeyType.ED25519)
    if key.type is not KeyType.ED25519:
        raise Malformed(
            f"{key.name} is the name of a cosigner, and this its key. Bring the key of the log, from its"
            " operator.",
            code="vkey",
        )
    return key


def read_cosigner(text: str) -> VerifierKey:
    """Read the key of a cosigner.

    Raises `Malformed` (`vkey`) for one of a log too, and what `read` raises.
    """
    key = read(text, KeyType.COSIGNATURE_V1)
    if key.type is not KeyType.COSIGNATURE_V1:
        raise Malformed(f"{key.name} is the key of a log, not of a cosigner.", code="vkey")
    return key
