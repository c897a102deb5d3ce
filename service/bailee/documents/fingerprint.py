"""A leaf hash as people copy it from paper: Crockford's base32, in groups of four."""

from __future__ import annotations

import base64
from typing import Final

from bailee.domain.numbers import ALPHABET, grouped
from bailee.ledger.base64url import unb64u

_RFC_4648: Final = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567"
_CROCKFORD: Final = str.maketrans(_RFC_4648, ALPHABET)


def fingerprint(leaf: str) -> str:
    """All 256 bits of a base64url hash: 52 characters, the last holding one bit and four zeros (RFC 4648 6, other letters).

    Half of them, 26, are the least a person may compare: whoever can choose both histories finds two that agree in a shorter one.
    """
    text = base64.b32encode(unb64u(leaf)).decode().rstrip("=")
    return grouped(text.translate(_CROCKFORD))
