"""Time stamps in a bundle: step 8 of the verifier, for tree heads that an outside authority saw.

A token is looked at as far as hashes go: it must be over a checkpoint that this log provably continues. Whether the authority
signed it rests on certificates that the auditor chooses, and is named as not checked.
"""

from __future__ import annotations

from collections.abc import Iterable

from bailee.errors import BaileeError
from bailee.ledger.checkpoint import Checkpoint
from bailee.signing import timestamp
from bailee.verify.bundle import Token
from bailee.verify.devices import Head
from bailee.verify.evidence import Notes
from bailee.verify.result import Place, Stamped


def check(
    tokens: Iterable[Token], origin: str | None, proven: Iterable[Head], notes: Notes
) -> tuple[Stamped, ...]:
    """The tokens that are over a checkpoint of this log, by size; any other is a fault of the file."""
    roots = dict(proven)
    found = []
    for token in tokens:
        root = roots.get(token.size)
        try:
            stamp = timestamp.read(token.der)
        except BaileeError as error:
            notes.fault(
                8,
                "token",
                Place(),
                f"A time stamp over {token.size} entries cannot be read. {error.sentence}",
            )
            continue
        text = Checkpoint(origin or "", token.size, root).body() if root else ""
        if timestamp.imprint_of(text) != stamp.imprint:
            said = f"The time stamp over {token.size} entries is over another text than this log's checkpoint of that size."
            notes.fault(8, "token", Place(), said)
            continue
        found.append(Stamped(token.size, stamp.at.isoformat(timespec="seconds").replace("+00:00", "Z"), text))
    if found:
        notes.not_checked(
            "tokens",
            "The signatures of the time stamps, which rest on certificates that you choose: write them with --tokens and ask "
            "`openssl ts -verify -token_in -in N.tst -data N.txt -CAfile <certificate of the authority>`.",
        )
    return tuple(sorted(found, key=lambda each: each.size))
