"""Personal fields, kept beside the log as salted disclosures (RFC 9901 4.2).

A disclosure is the base64url text of `[salt, name, value]`; its digest, base64url SHA-256 of that text, is
what a person signs. Deleting the text erases the value for good and leaves every signature and proof whole.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from bailee.errors import Forged, Malformed
from bailee.ledger.base64url import b64u, unb64u
from bailee.signing import strict_json

_RESERVED: Final = ("_sd", "...")
"""Names that would be read as structure (RFC 9901 4.2.1)."""

LIMIT: Final = 8192
"""Characters of one disclosure: a page of free text, and no more, so that one statement cannot
fill the disk."""


def conceal(fields: Mapping[str, str]) -> list[str]:
    """One disclosure per field, each with its own 128-bit salt (RFC 9901 4.2.1).

    Raises `Malformed` (`too-large`) for a value that no ledger would take.
    """
    texts = []
    for name, value in sorted(fields.items()):
        text = b64u(strict_json.dumps([b64u(os.urandom(16)), name, value]))
        if len(text) > LIMIT:
            raise Malformed(
                f"The private field {name!r} is too long: shorten it.", code="too-large", name=name
            )
        texts.append(text)
    return texts


def digest(disclosure: str) -> str:
    """RFC 9901 4.2.3: base64url SHA-256 of the disclosure's own characters."""
    return b64u(hashlib.sha256(disclosure.encode("ascii")).digest())


def name_of(disclosure: str) -> str:
    """The name of a private field that was read before."""
    name: str = strict_json.loads(unb64u(disclosure))[1]
    return name


def reveal(disclosures: Sequence[str], signed: Iterable[str], public: Iterable[str]) -> dict[str, str]:
    """Names and values of `disclosures`, each of which must have its digest in `signed`.

    `public` are the names that are signed in the open; a disclosure may not reuse one (RFC 9901 7.1). Raises
    `Malformed` for text that is no disclosure, `Forged` (`wrong-disclosure`) for one nobody signed.
    """
    digests, taken = set(signed), {*public, *_RESERVED}
    fields: dict[str, str] = {}
    for text in disclosures:
        if not isinstance(text, str) or len(text) > LIMIT:
            raise Malformed(f"A disclosure is text of at most {LIMIT} characters.", code="bad-disclosure")
        parts = strict_json.loads(unb64u(text))
        if not (isinstance(parts, list) and len(parts) == 3 and all(isinstance(part, str) for part in parts)):
            raise Malformed(
                "A disclosure is a list of salt, name and value, all text.", code="bad-disclosure"
            )
        _, name, value = parts
        if digest(text) not in digests:
            raise Forged(
                f"The private field {name!r} does not fit what was signed.",
                code="wrong-disclosure",
                name=name,
            )
        if name in taken or name in fields:
            raise Forged(f"The private field {name!r} is given twice.", code="wrong-disclosure", name=name)
        fields[name] = value
    return fields
