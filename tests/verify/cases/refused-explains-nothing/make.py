"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.ledger.base64url import b64u
from bailee.verify.bundle import Bundle
from builders import CLERK, FIRM, QUALITY
from log_simulator import LogSimulator
from spoiling import LATER, forged, index_of, keep, log_it


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The clerk's count has a hole, and some text is brought for it."""
    training = {"kid": town.device(CLERK).key.kid, "on": "2025-03-03", "valid_to": None}
    seq = town.device(CLERK).seq
    by = QUALITY if variant == "a role that may say it" else CLERK
    if variant == "an act that happened to samples":
        text = keep(town)
    else:
        more = {"aud": "ledger.example/test"} if variant == "for another log" else {}
        text = town.signed(by, f"org/{FIRM}", "trained", training, said=LATER, **more)
    town.device(CLERK).seq = seq + 1
    wrong = {"prev": b64u(bytes(32))} if variant == "another text than the next one names" else {}
    made = log_it(town, keep(town, **wrong))
    texts = {
        "forged": forged(text),
        "unreadable": "nothing",
        "recorded all the same": town.log[index_of(town, 7)].entry.stmt,
    }
    return replace(made, refused=(texts.get(variant, text),))
