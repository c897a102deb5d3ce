"""See README.md beside this."""

from __future__ import annotations

from bailee.signing import signed_statement
from bailee.verify.bundle import Bundle
from builders import LAB_QUALITY, SECOND_CUSTODIAN, SECOND_LAB, Person
from log_simulator import LogSimulator
from spoiling import LATER, index_of, keep, other_laboratory, whole


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The laboratory recalls the firm's lot.

    A laboratory nobody named speaks on the form, or opens one for firm and laboratory.
    """
    other_laboratory(town)
    match variant:
        case "on a lot":
            chain = f"lot/{town.lots[0]}"
            town.append(chain, town.signed(LAB_QUALITY, chain, "recalled", {"reason": "other"}, said=LATER))
        case "on a form":
            town.append(f"form/{town.form}", keep(town, SECOND_CUSTODIAN))
        case "in the name of others":
            data = signed_statement.read(town.log[index_of(town, 1)].entry.stmt).claims.data
            stranger = Person(SECOND_LAB, "root", "Root Third")
            town.forms.append(town.number("form"))
            chain = f"form/{town.form}"
            town.append(chain, town.signed(stranger, chain, "opened", data, said=LATER))
    return whole(town)
