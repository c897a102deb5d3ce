"""What the generators of `cases/` share: ways to change a sound bundle, and things an operator lets a log
take.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import replace
from typing import Any, Final

from bailee.errors import BaileeError
from bailee.ledger import entry as entries
from bailee.ledger.base64url import b64u, unb64u
from bailee.ledger.checkpoint import VerifierKey, print_note, read_note
from bailee.signing import notes
from bailee.signing.keys import SigningKey, jwk_of, thumbprint
from bailee.verify import bundle
from bailee.verify.bundle import Bundle, Placed
from bailee.verify.verifier import Trust
from builders import CLERK, DAY, SECOND_CUSTODIAN, SECOND_LAB, SECOND_LAB_ROOT, Person
from log_simulator import EXPORTED, Logged, LogSimulator, seeded

LATER: Final = "2026-12-02T12:00:00-06:00"
ORDER: Final = 2**252 + 27742317777372353535851937790883648493
"""L of RFC 8032 5.1: the order of the base point."""
TIME: Final = 1_796_234_400
"""2026-12-02T18:00:00Z, when everybody cosigns."""


def index_of(town: LogSimulator, n: int) -> int:
    """Log index of entry `n` of the form."""
    return town.find(f"form/{town.form}", n)


def changed(sound: Bundle, index: int, change: Callable[[Placed], Placed]) -> Bundle:
    """The bundle with one entry changed."""
    return replace(sound, entries=tuple(change(e) if e.index == index else e for e in sound.entries))


def without(sound: Bundle, *indexes: int) -> Bundle:
    """The bundle without some entries."""
    return replace(sound, entries=tuple(each for each in sound.entries if each.index not in indexes))


def without_chain(sound: Bundle, chain: str) -> Bundle:
    """The bundle without the chains that begin with this."""
    return replace(
        sound, entries=tuple(e for e in sound.entries if not entries.read(e.text).chain.startswith(chain))
    )


def replaced(text: str, old: str, new: str) -> str:
    """`text` with `old` exchanged, which must be in it: a case that changes nothing would prove nothing."""
    assert old in text
    return text.replace(old, new)


def with_statement(placed: Placed, change: Callable[[str], str]) -> Placed:
    """The entry with its statement changed and everything else as it was."""
    found = entries.read(placed.text)
    return replace(placed, text=entries.write(replace(found, stmt=change(found.stmt))))


def keep(town: LogSimulator, by: Person = CLERK, **how: Any) -> str:
    """A harmless statement on the form, signed, not yet logged; `how` replaces claims."""
    data = {"secured": "locked", "where": "office", "since": f"{DAY}T16:00:00-05:00"}
    return town.signed(by, f"form/{town.form}", "held", data, said=how.pop("said", LATER), **how)


def log_it(town: LogSimulator, text: str, **how: Any) -> Bundle:
    """The operator logs a statement on the form, whatever it is; the form's bundle then."""
    town.append(f"form/{town.form}", text, **how)
    return town.bundle()


def log_unreadable(town: LogSimulator, text: str) -> Bundle:
    """The same with a text that no honest program can read."""
    return log_spoilt(
        town, lambda entry: replaced(entry.text, json.dumps(entry.entry.stmt), json.dumps(text))
    )


def log_spoilt(town: LogSimulator, change: Callable[[Logged], str]) -> Bundle:
    """The operator logs a text in the place of an entry.

    The tree heads are those that the entries before it name.
    """
    index = town.append(f"form/{town.form}", keep(town))
    before = [town.placed(i) for i in range(index)]
    town.rewrite(index, change(town.log[index]))
    placed = [town.placed(i) for i in range(index + 1)]
    roots = dict(town.trust().roots)
    return bundle.assemble(
        town.form, placed, town.note(), ends_of(town), town.earlier(before), roots, EXPORTED
    )


def ends_of(town: LogSimulator) -> str:
    """Where every chain ends that an entry of the log can be read of."""
    chains = set()
    for logged in town.log:
        with suppress(BaileeError):
            chains.add(logged.entry.chain)
    return town.ends(*chains)


def members(town: LogSimulator) -> dict[str, Any]:
    """The sound bundle as plain JSON."""
    found: dict[str, Any] = json.loads(bundle.write(town.bundle()))
    return found


def enrollment(town: LogSimulator, newcomer: Person, by: Person, **changes: Any) -> str:
    """`by` enrolls the newcomer's key."""
    key = town.device(newcomer).key
    data = {
        "kid": key.kid,
        "jwk": key.jwk,
        "role": newcomer.role,
        "proof": town.proof_of(newcomer),
        "identity_check": "known",
    }
    return town.signed(by, f"org/{by.org}", "enrolled", {**data, **changes}, said=LATER)


def other_laboratory(town: LogSimulator, recovery: str | None = None) -> None:
    """A laboratory that is no party of the form is founded, with or without a recovery key, and enrolls its
    custodian.
    """
    chain, jwk = f"org/{SECOND_LAB}", town.device(SECOND_LAB_ROOT).key.jwk
    data = {"name": "Third Laboratory (example)", "jwk": jwk, "recovery": recovery}
    town.append(chain, town.signed(SECOND_LAB_ROOT, chain, "founded", data, said=LATER))
    town.append(chain, enrollment(town, SECOND_CUSTODIAN, SECOND_LAB_ROOT))


def whole(town: LogSimulator) -> Bundle:
    """The file of the form with every chain of the log in it."""
    placed = [town.placed(index) for index in range(len(town.log))]
    roots = dict(town.trust().roots)
    return bundle.assemble(
        town.form, placed, town.note(), ends_of(town), town.earlier(placed), roots, EXPORTED
    )


def forged(text: str) -> str:
    """The statement with the signature of somebody else's key."""
    signing_input = text.rpartition(".")[0]
    return f"{signing_input}.{b64u(seeded('forger').sign(signing_input.encode()))}"


def signed_as(town: LogSimulator, by: Person, header: Mapping[str, Any], text: str) -> str:
    """The claims of `text` under another header, with a signature that holds."""
    signing_input = f"{b64u(json.dumps(dict(header)).encode())}.{text.split('.')[1]}"
    return f"{signing_input}.{b64u(town.device(by).key.sign(signing_input.encode()))}"


def claiming(town: LogSimulator, by: Person, text: str, change: Callable[[bytes], bytes]) -> str:
    """The statement with its claims' bytes changed, and a signature that holds over them."""
    header, payload, _ = text.split(".")
    signing_input = f"{header}.{b64u(change(unb64u(payload)))}"
    return f"{signing_input}.{b64u(town.device(by).key.sign(signing_input.encode()))}"


class WeakKey:
    """The identity point as public key: R = B, S = 1 is then a signature over every message (RFC 8032 5.1.7,
    the equation).

    The encoding of B is RFC 8032 5.1's base point.
    """

    public = bytes([1]) + bytes(31)
    jwk = jwk_of(public)
    kid = thumbprint(jwk)

    def sign(self, message: bytes) -> bytes:
        """R = B, S = 1."""
        return bytes([0x58]) + bytes([0x66]) * 31 + bytes([1]) + bytes(31)


def cosigner(name: str) -> SigningKey:
    """A cosigner's private key."""
    return seeded("cosigner", name)


def cosigner_vkey(name: str) -> VerifierKey:
    """And its public half."""
    return notes.cosigner_key(f"{name}.example/cosigner", cosigner(name))


def cosigned(sound: Bundle, *names: str, text: str | None = None, by: SigningKey | None = None) -> Bundle:
    """The bundle with cosignatures on its checkpoint, or on another `text`, or with another key than the name
    says.
    """
    note = read_note(sound.note)
    lines = []
    for name in names:
        vkey = cosigner_vkey(name)
        line = notes.cosign(text or note.text, vkey.name, by or cosigner(name), TIME)
        lines.append(replace(line, key_id=vkey.key_id))
    return replace(sound, note=print_note(note.with_signatures(lines)))


def cosigners(town: LogSimulator, quorum: int, *names: str) -> Trust:
    """What an auditor brings who names these cosigners."""
    return replace(town.trust(), cosigners={each: cosigner_vkey(each) for each in names}, quorum=quorum)
