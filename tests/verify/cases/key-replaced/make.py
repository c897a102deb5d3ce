"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.ledger import entry as entries
from bailee.ledger.base64url import b64u, unb64u
from bailee.verify.bundle import Bundle
from builders import FIRM, INSPECTOR
from log_simulator import LogSimulator, seeded


def bundle(town: LogSimulator) -> Bundle:
    """The inspector's enrollment is made to name a key of the operator, and the organization's chain is
    joined again.
    """
    index = town.find(f"org/{FIRM}", 2)
    found = town.log[index].entry
    header, payload, signature = found.stmt.split(".")
    own, other = town.device(INSPECTOR).key, seeded("operator")
    swapped = unb64u(payload).decode().replace(own.kid, other.kid).replace(own.jwk["x"], other.jwk["x"])
    town.rewrite(index, entries.write(replace(found, stmt=f"{header}.{b64u(swapped.encode())}.{signature}")))
    town.rechain(index)
    return replace(town.bundle(), earlier=())
