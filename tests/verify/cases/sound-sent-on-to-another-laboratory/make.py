"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from builders import CUSTODIAN, SECOND_CUSTODIAN, SECOND_LAB, SECOND_LAB_ROOT, Person
from log_simulator import LogSimulator, seeded
from spoiling import LATER, enrollment, other_laboratory, whole

_NEW_ROOT = Person(SECOND_LAB, "root", "New root")
_NEW_CUSTODIAN = Person(SECOND_LAB, "custodian", "New custodian")


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """One slide goes on and is received by hand; the first laboratory speaks afterwards too."""
    recovery = seeded("recovery")
    other_laboratory(town, recovery.kid)
    receiver = SECOND_CUSTODIAN
    if variant == "which had lost its root key":
        receiver, key = _NEW_CUSTODIAN, town.device(_NEW_ROOT).key
        data = {
            "recovery_jwk": recovery.jwk,
            "kid": key.kid,
            "jwk": key.jwk,
            "proof": town.proof_of(_NEW_ROOT),
            "since": LATER,
        }
        said = town.signed(
            Person(SECOND_LAB, "root", "Recovery"),
            f"org/{SECOND_LAB}",
            "recovered",
            data,
            said=LATER,
            key=recovery,
        )
        town.append(f"org/{SECOND_LAB}", said)
        town.append(f"org/{SECOND_LAB}", enrollment(town, receiver, _NEW_ROOT))
    town.held(by=CUSTODIAN, since="2026-12-02T11:05:00-06:00")
    town.forwarded(0, at="2026-12-02T15:00:00-06:00")
    child = town.samples[-1]
    town.relinquished(
        [child], by=CUSTODIAN, to=SECOND_LAB, to_kid=None, purpose="analysis", at="2026-12-02T15:10:00-06:00",
    )  # fmt: skip
    items = [{"sample": child, "condition": ["opened"]}]
    town.received([child], by=receiver, items=items, purpose="analysis", at="2026-12-02T15:20:00-06:00")
    town.held(by=CUSTODIAN, since="2026-12-02T15:30:00-06:00")  # the owners are still the owners
    return whole(town)


def brings(town: LogSimulator, _: str) -> Trust:
    """The auditor has asked the second laboratory for its root too."""
    trust = town.trust()
    return replace(trust, roots={**trust.roots, SECOND_LAB: town.device(SECOND_LAB_ROOT).key.kid})
