"""How single things are written on paper and on pages: the same words in both."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bailee.documents import signature_blocks
from bailee.documents.letter import Line
from bailee.documents.signature_blocks import Signature
from bailee.domain.acts.form import Opened
from bailee.domain.custody import Form
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.rules.case import Case

DEMO: Final = "Demo keys \u2014 not evidence"

SEVERITIES: Final = {
    "refuse": "Refused",
    "block": "Block: nothing may be sealed, shipped or released until this is cured or excepted",
    "flag": "Flag: found after the fact; recorded, never hidden",
    "warn": "Warning: allowed, and to be weighed",
    "note": "Note",
}
AREAS: Final = {
    "records": "Records",
    "custody": "Custody",
    "media": "Media and sampling",
    "comparison": "Outdoor comparison",
}


def is_demo(origin: str) -> bool:
    """A log whose name starts with `demo.` is for showing; its keys prove nothing."""
    return origin.startswith("demo.")


def private(form: Form, name: str) -> str:
    """A private field of the visit: its words, or that it is withheld, or that nothing of the kind was ever said."""
    entry = form.opened.entry
    if name in entry.disclosed:
        return entry.disclosed[name]
    return "withheld" if entry.private > len(entry.disclosed) else "not stated"


def arrival(opened: Opened) -> Iterator[str]:
    """How the building was prepared, in words."""
    answers = opened.preparation
    if answers is None:
        yield "not stated"
        return
    closed, off, cleaned = answers.windows_closed_h, answers.purifiers_off_h, answers.cleaned_h_ago
    yield f"windows closed {closed} h" if closed is not None else "windows never opened"
    yield f"air cleaners off {off} h" if off is not None else "no air cleaners"
    yield f"ventilation {answers.ventilation.replace('_', ' ')}"
    yield f"cleaned {cleaned} h before" if cleaned is not None else "not cleaned"
    if answers.works_h_ago is not None:
        yield f"painted, torn down or built in {answers.works_h_ago} h before"


def about(number: str) -> str:
    """What a finding is about, in printed groups when it is a number."""
    return grouped(number) if len(number) == 12 and number.isalnum() and number.isupper() else number


def seal(number: str) -> str:
    """A seal number in groups when it is one of ours, otherwise as it was printed."""
    return about(number)


def plain(word: str) -> str:
    """A code or the name of a field as words."""
    return word.replace("_", " ").replace(".", ", ")


def organization(case: Case, name: str) -> str:
    """An organization's full name, or its short one when its chain is not here."""
    found = case.organizations.get(name)
    return found.name if found else name


def moment_or_not(moment: Moment | None) -> str:
    """A time, or that none was given."""
    return signature_blocks.when(moment) if moment else "not stated"


def signed_by(signed: Signature) -> list[Line]:
    """A signature as a cell: name, role and organization, time and entry, meaning."""
    return [
        Line(signed.name, bold=True),
        Line(f"{signed.role}, {signed.organization}"),
        Line(f"{signed.time}, {signature_blocks.entry_numbers(signed.entries)}"),
        Line(f"\u201c{signed.meaning}\u201d"),
    ]


def in_one_line(signed: Signature) -> str:
    """The same as a sentence."""
    where = signature_blocks.entry_numbers(signed.entries)
    return f"{signed.name}, {signed.role}, {signed.organization}, {signed.time}, {where}: \u201c{signed.meaning}\u201d"
