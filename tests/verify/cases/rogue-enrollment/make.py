"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import FIRM, INSPECTOR, ROOT, Person
from log_simulator import LogSimulator
from spoiling import LATER, enrollment, keep, log_it

_ADMINISTRATOR = Person(FIRM, "admin", "Administrator")
_SECOND_ROOT = Person(FIRM, "root", "Second root")


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """A key comes in by somebody who may not bring it, and then speaks."""
    chain, rogue = f"org/{FIRM}", Person(FIRM, "clerk", "Rogue")
    match variant:
        case "an inspector enrolls a clerk":
            town.append(chain, enrollment(town, rogue, INSPECTOR))
        case "an administrator enrolls a root key":
            town.append(chain, enrollment(town, _ADMINISTRATOR, ROOT))
            town.append(chain, enrollment(town, _SECOND_ROOT, _ADMINISTRATOR))
            town.append(chain, enrollment(town, rogue, _SECOND_ROOT))
        case "a root key says what only the recovery key may":
            key, own = town.device(rogue).key, town.device(ROOT).key
            data = {
                "recovery_jwk": own.jwk,
                "kid": key.kid,
                "jwk": key.jwk,
                "proof": town.proof_of(rogue),
                "since": LATER,
            }
            town.append(chain, town.signed(ROOT, chain, "recovered", data, said=LATER))
    return log_it(town, keep(town, rogue))
