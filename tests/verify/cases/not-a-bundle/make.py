"""See README.md beside this."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from bailee.ledger.base64url import b64
from log_simulator import LogSimulator
from spoiling import members

_SPOILT: dict[str, Callable[[Any], Any]] = {
    "format from before the first release": lambda m: m.update(format="bailee-bundle/1"),
    "format of a later program": lambda m: m.update(format="bailee-bundle/3"),
    "format missing": lambda m: m.pop("format"),
    "checkpoint missing": lambda m: m.pop("checkpoint"),
    "checkpoint a number": lambda m: m.update(checkpoint=7),
    "entries an object": lambda m: m.update(entries={}),
    "no entries": lambda m: m.update(entries=[]),
    "earlier missing": lambda m: m.pop("earlier"),
    "exported no time": lambda m: m.update(exported="yesterday"),
    "exported in another spelling": lambda m: m.update(exported="2026-12-03T09:00:00+00:00"),
    "roots a list": lambda m: m.update(roots=[]),
    "root of no organization": lambda m: m.update(roots={"Not An Id": "A" * 43}),
    "root cut short": lambda m: m.update(roots={"firm": "A" * 42}),
    "root a number": lambda m: m.update(roots={"firm": 1}),
    "entry a text": lambda m: m["entries"].append("text"),
    "proof missing": lambda m: m["entries"][0].pop("proof"),
    "private fields missing": lambda m: m["entries"][0].pop("disclosures"),
    "private field a number": lambda m: m["entries"][0].update(disclosures=[1]),
    "text missing": lambda m: m["entries"][0].update(entry=None),
    "index below zero": lambda m: m["entries"][0].update(index=-1),
    "index true": lambda m: m["entries"][0].update(index=True),
    "index a text": lambda m: m["entries"][0].update(index="0"),
    "hash of 31 bytes": lambda m: m["entries"][0].update(proof=[b64(bytes(31))]),
    "proof longer than any tree": lambda m: m["entries"][0].update(proof=[b64(bytes(32))] * 65),
    "root of 33 bytes": lambda m: m["earlier"][0].update(root=b64(bytes(33))),
    "size missing": lambda m: m["earlier"][0].update(size=None),
    "conflicts an object": lambda m: m.update(conflicts={}),
    "conflict of one": lambda m: m.update(conflicts=[["one"]]),
    "conflict with a number": lambda m: m.update(conflicts=[["one", 2]]),
    "token of another kind": lambda m: m.update(tokens=[{"type": "other", "size": 1, "der": ""}]),
    "token below zero": lambda m: m.update(tokens=[{"type": "rfc3161", "size": -1, "der": ""}]),
    "token without bytes": lambda m: m.update(tokens=[{"type": "rfc3161", "size": 1}]),
}  # fmt: skip
TOLD = "opened"


def bundle(town: LogSimulator, variant: str) -> bytes:
    """One member is not what it must be."""
    file = members(town)
    _SPOILT[variant](file)
    return json.dumps(file).encode()
