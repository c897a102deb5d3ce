"""What stands in for the library `cryptography` inside the page, where Python cannot check a signature and
the browser can.

The browser answers only after Python has returned, so Python asks in writing: every signature that it comes
upon and that has no answer yet is noted in `ANSWERS.unknown`. The page has the browser check those
(WebCrypto, RFC 8032), tells the answers and runs the verifier again from the start, until nothing is unknown.
A report counts only when everything in it was answered.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import dataclass, field
from types import ModuleType
from typing import Final, Self

from bailee.verify.page import ladder

Triple = tuple[bytes, bytes, bytes]
"""Public key, signature, message."""

_KEY_BYTES: Final = 32
_MANY: Final = 100_000


class InvalidSignature(Exception):
    """The browser found that this signature does not fit, or has not answered yet."""


@dataclass(slots=True)
class Answers:
    """What the browser said of each signature, and what it has yet to be asked.

    With `supposing`, an unknown signature is supposed to fit, only to see what would be asked next; nothing
    of such a run may be shown unless `unknown` stayed empty. Otherwise an unknown signature is refused.
    """

    known: dict[Triple, bool] = field(default_factory=dict)
    unknown: dict[Triple, None] = field(default_factory=dict)
    supposing: bool = False

    def begin(self, *, supposing: bool) -> None:
        """A run of the verifier begins."""
        self.supposing = supposing
        self.unknown = {}
        if len(self.known) > _MANY:
            self.known = {}

    def fits(self, triple: Triple) -> bool:
        """Whether the signature counts in this run."""
        found = self.known.get(triple)
        if found is None:
            self.unknown[triple] = None
            return self.supposing
        return found

    def learn(self, answers: Iterable[tuple[Triple, bool]]) -> None:
        """The browser has checked."""
        for triple, fits in answers:
            self.known[triple] = fits is True


ANSWERS: Final = Answers()


class PublicKey:
    """An Ed25519 public key, as far as verifying needs it."""

    def __init__(self, raw: bytes) -> None:
        self._raw = raw

    @classmethod
    def from_public_bytes(cls, data: bytes) -> Self:
        """From 32 bytes. Raises `ValueError`."""
        if len(data) != _KEY_BYTES:
            raise ValueError("An Ed25519 public key is 32 bytes long")
        return cls(bytes(data))

    def verify(self, signature: bytes, data: bytes) -> None:
        """Raise `InvalidSignature` unless the browser found that it fits."""
        if not ANSWERS.fits((self._raw, bytes(signature), bytes(data))):
            raise InvalidSignature


class Absent:
    """Signing and key files have no place in the page."""

    def __init__(self, *_: object, **__: object) -> None:
        raise NotImplementedError


def _refusal(name: str) -> type[Exception]:
    return type(name, (Exception,), {})


def stand_in() -> None:
    """Put the stand-in where `import cryptography` looks.

    Only the page calls this, before anything else is imported.
    """
    ed25519 = {"Ed25519PublicKey": PublicKey, "Ed25519PrivateKey": Absent}
    kept = dict.fromkeys(("Encoding", "PrivateFormat", "NoEncryption", "BestAvailableEncryption"), Absent)
    parts: dict[str, dict[str, object]] = {
        "cryptography": {},
        "cryptography.exceptions": {
            "InvalidSignature": InvalidSignature,
            "InternalError": _refusal("InternalError"),
            "UnsupportedAlgorithm": _refusal("UnsupportedAlgorithm"),
        },
        "cryptography.hazmat": {},
        "cryptography.hazmat.primitives": {},
        "cryptography.hazmat.primitives.serialization": {
            **kept,
            "KeySerializationEncryption": Absent,
            "load_pem_private_key": Absent,
        },
        "cryptography.hazmat.primitives.asymmetric": {},
        "cryptography.hazmat.primitives.asymmetric.ed25519": dict(ed25519),
        "cryptography.hazmat.primitives.asymmetric.x25519": {
            "X25519PublicKey": ladder.PublicKey,
            "X25519PrivateKey": ladder.PrivateKey,
        },
        "cryptography.hazmat.primitives.kdf": {},
        "cryptography.hazmat.primitives.kdf.argon2": {"Argon2id": Absent},
    }
    for name, members in parts.items():
        module = ModuleType(name)
        module.__path__ = []
        module.__dict__.update(members)
        sys.modules[name] = module
        above, _, last = name.rpartition(".")
        if above:
            setattr(sys.modules[above], last, module)
