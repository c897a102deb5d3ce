"""What a laboratory to which samples were sent on may read: custody, codes and who signed, not whom the
samples are about.

It became a party of the form by `forwarded`. What the others wrote beside the log (client, site, contact,
question, places, notes, devices) stays hidden from it, as if erased: every proof holds without them, and the
fields are counted as withheld. The printed names of those who signed it is told, as everybody is who receives
a custody record: without them it could not say from whom it has the sample.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from bailee.domain import forms
from bailee.domain.acts.form import Opened
from bailee.domain.custody import Form
from bailee.domain.statements import Recorded
from bailee.rules.case import Case
from bailee.signing import disclosures

_WHO_SIGNED: Final = "person"
"""The private field that is the printed name of a key's owner, on the chain of an organization."""


def case(found: Case, org: str) -> Case:
    """The case as that organization may read it."""
    seen = {number: form(each, org) for number, each in found.forms.items()}
    hidden = any(seen[number] is not each for number, each in found.forms.items())
    return replace(found, forms=seen) if hidden else found


def form(found: Form, org: str) -> Form:
    """The form as that organization may read it: whole for the two for which it was opened."""
    if is_for(found.opened.entry, org):
        return found
    entries = [entry if entry.org == org else replace(entry, disclosed={}) for entry in found.entries]
    return forms.fold(found.number, entries, found.owners, found.roles)


def is_for(opened: Recorded, org: str) -> bool:
    """Whether a form was opened for this organization, so that it reads everything that is private there."""
    assert isinstance(opened.body, Opened)
    return org in (opened.body.parties.firm, opened.body.parties.lab)


def beside(entry: Recorded, told: Sequence[str], org: str) -> tuple[str, ...]:
    """Of the disclosures of an entry what an organization may read for which the form was not opened."""
    if entry.org == org:
        return tuple(told)
    if entry.chain.startswith("org/"):
        return tuple(each for each in told if disclosures.name_of(each) == _WHO_SIGNED)
    return ()
