"""See README.md beside this."""

from __future__ import annotations

from bailee.signing import signed_statement
from bailee.verify.bundle import Bundle
from builders import Person
from log_simulator import LogSimulator
from spoiling import LATER, enrollment, index_of, keep, whole


def bundle(town: LogSimulator) -> Bundle:
    """The form is opened again under number 1, for a stranger's firm, whose clerk then speaks."""
    stranger, clerk = (
        Person("alder-brook", "root", "Stranger"),
        Person("alder-brook", "clerk", "Clerk of a stranger"),
    )
    chain, form = "org/alder-brook", f"form/{town.form}"
    founded = {"name": "Alder", "jwk": town.device(stranger).key.jwk, "recovery": None}
    town.append(chain, town.signed(stranger, chain, "founded", founded, said=LATER))
    town.append(chain, enrollment(town, clerk, stranger))
    opened = signed_statement.read(town.log[index_of(town, 1)].entry.stmt).claims.data
    ours = {**opened, "parties": {"firm": "alder-brook", "lab": "alder-brook"}}
    town.append(form, town.signed(clerk, form, "opened", ours, said=LATER), n=1)
    town.append(form, keep(town, clerk), n=13, prev=town.log[index_of(town, 12)].leaf)
    return whole(town)
