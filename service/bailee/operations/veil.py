"""What a laboratory to which samples were sent on may read: codes and custody, not whom the samples are about.

It became a party of the form by `forwarded`. Names, addresses and free text of the others stay hidden from it, as if erased: every
proof holds without them, and the fields are counted as withheld.
"""

from __future__ import annotations

from dataclasses import replace

from bailee.domain import forms
from bailee.domain.custody import Form
from bailee.domain.form_acts import Opened
from bailee.rules.case import Case


def seen_by(case: Case, org: str) -> Case:
    """The case as that organisation may read it."""
    seen = {number: _form(form, org) for number, form in case.forms.items()}
    hidden = any(seen[number] is not form for number, form in case.forms.items())
    return replace(case, forms=seen) if hidden else case


def _form(form: Form, org: str) -> Form:
    parties = form.opened.of(Opened).parties
    if org in (parties.firm, parties.lab):
        return form
    entries = [entry if entry.org == org else replace(entry, disclosed={}) for entry in form.entries]
    return forms.fold(form.number, entries, form.owners, form.roles)
