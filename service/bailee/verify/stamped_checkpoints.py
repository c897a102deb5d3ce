"""Time stamps in a bundle: step 8 of the verifier, for tree heads that an outside authority saw.

A token must be over a checkpoint that this log provably continues. Whether the authority signed it rests on
certificates that the auditor chooses: with them it is checked (`authority`), without them it is named as not
checked. A token that contradicts itself is a fault; one whose authority the auditor has no reason to believe
is to be weighed, as honest people cause it too.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

from bailee.errors import BaileeError, Forged, Malformed, Unavailable, Unknown
from bailee.ledger.checkpoint import Checkpoint
from bailee.signing import timestamp
from bailee.signing.timestamp import Stamp
from bailee.verify.bundle import TimeStampToken
from bailee.verify.devices import Head
from bailee.verify.evidence import Notes, shown
from bailee.verify.result import PlaceInFile, Stamped

_NO_ROOT: Final = (
    "The signatures of the time stamps, which rest on certificates that you choose: give `bailee verify` the"
    " root certificate of the authority as --stamp-root; or write them with --tokens and ask `openssl ts"
    " -verify -token_in -in N.tst -data N.txt -CAfile <certificate of the authority>`."
)
_ENDED: Final = (
    "Revocation of a time stamp authority's certificate before it stamped: ask it for its list of ended"
    " certificates."
)


def check(
    tokens: Iterable[TimeStampToken],
    origin: str | None,
    proven: Iterable[Head],
    stamp_roots: Sequence[bytes],
    notes: Notes,
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
                PlaceInFile(),
                f"A time stamp over {token.size} entries cannot be read. {error.sentence}",
            )
            continue
        text = Checkpoint(origin or "", token.size, root).body() if root else ""
        if timestamp.imprint_of(text) != stamp.imprint:
            said = (
                f"The time stamp over {token.size} entries is over another text than this log's checkpoint of"
                " that size."
            )
            notes.fault(8, "token", PlaceInFile(), said)
            continue
        said_at = stamp.at.isoformat(timespec="seconds").replace("+00:00", "Z")
        stamped = Stamped(token.size, said_at, text)
        if stamp_roots:
            weighed = _weigh(stamped, stamp, stamp_roots, notes)
            found += [weighed] if weighed else []
        else:
            found.append(stamped)
    if found and not stamp_roots:
        notes.not_checked("tokens", _NO_ROOT)
    if any(each.signed == "checked" for each in found):
        notes.not_checked("stamp-ended", _ENDED)
    return tuple(sorted(found, key=lambda each: each.size))


def _weigh(stamped: Stamped, stamp: Stamp, roots: Sequence[bytes], notes: Notes) -> Stamped | None:
    """The stamp with what became of its signature; None when it was altered, which is a fault."""
    from bailee.verify import authority

    which = f"The time stamp over {stamped.size} entries shows {shown(stamped.at)}."
    try:
        name = authority.signed_by(stamp, roots)
    except (Forged, Malformed) as error:
        notes.fault(8, "token", PlaceInFile(), f"{which} {error.sentence}")
        return None
    except Unknown as error:
        notes.remark("stamp-not-believed", PlaceInFile(), f"{which} {error.sentence}")
        return replace(stamped, signed="not believed")
    except Unavailable as error:
        notes.not_checked("tokens", f"{which} {error.sentence}")
        return stamped
    return replace(stamped, signed="checked", authority=name)
