"""Signatures on a custody record; decisions, corrections, remarks, and by which keys all of it was signed."""

from __future__ import annotations

from typing import Final

from bailee.documents.letter import INNER, SMALL, Column, Letter, Line
from bailee.domain.acts.form import (
    Collected,
    Corrected,
    Held,
    Opened,
    Received,
    Relinquished,
    Sealed,
    Shipped,
)
from bailee.domain.custody import Form
from bailee.presentation import words
from bailee.presentation.act_words import corrections, says
from bailee.presentation.signature_words import Signature, entry_numbers, signature
from bailee.rules.case import Case

_OTHER_ACTS: Final = (Column("Act", 40), Column("Signed by", 68), Column("What it says", INNER - 108))
_CORRECTIONS: Final = (
    Column("Statement", 30),
    Column("Field", 26),
    Column("Said", 30),
    Column("Should say", 36),
    Column("Corrected by", INNER - 122),
)
_SHOWN: Final = frozenset({"client", "site", "contact", "place", "called_person", "answer"})
_ELSEWHERE: Final = (Opened, Collected, Held, Relinquished, Received, Sealed, Shipped, Corrected)
"""Acts whose signatures stand in a section of their own."""


def signed_by(signed: Signature) -> list[Line]:
    """A signature as a cell: name, role and organization, time and entry, meaning."""
    return [
        Line(signed.name, bold=True),
        Line(f"{signed.role}, {signed.organization}"),
        Line(f"{signed.time}, {entry_numbers(signed.entries)}"),
        Line(f"\u201c{signed.meaning}\u201d"),
    ]


def in_one_line(signed: Signature) -> str:
    """The same as a sentence."""
    where = entry_numbers(signed.entries)
    return (
        f"{signed.name}, {signed.role}, {signed.organization}, {signed.time}, {where}:"
        f" \u201c{signed.meaning}\u201d"
    )


def other_acts(letter: Letter, form: Form, case: Case) -> None:
    """Decisions of the laboratory, voids, opened seals, exceptions, the end of custody: each with its
    signature.
    """
    entries = [entry for entry in form.ordered if not isinstance(entry.body, _ELSEWHERE)]
    if not entries:
        return
    letter.heading("Decisions and other signed acts")
    letter.table(
        _OTHER_ACTS,
        [
            [
                [Line(words.plain(entry.act).capitalize(), bold=True)],
                signed_by(signature(case, entry)),
                [Line(said) for said in says(entry)],
            ]
            for entry in entries
        ],
    )


def list_corrections(letter: Letter, form: Form, case: Case) -> None:
    """The value that was said, struck through, beside the one that should have been (21 CFR 11.10(e))."""
    if not form.corrections:
        return
    letter.heading("Corrections", "the earlier value stays in the log")
    rows = []
    for each in corrections(form, case):
        new = [Line(each.new, bold=True), Line(f"reason: {each.reason}")]
        if each.why_not:
            new.append(Line(f"{words.NOT_FOLLOWED}: {each.why_not}", bold=True))
        old = [Line(each.old, struck=True)]
        rows.append([[Line(each.target)], [Line(each.field)], old, new, signed_by(each.by)])
    letter.table(_CORRECTIONS, rows)


def private(letter: Letter, form: Form) -> None:
    """Free text that is disclosed and has no place above, and how much is withheld where."""
    said = [
        f"Entry {entry.n}, {words.plain(entry.act)}, {words.plain(name)}: {text}"
        for entry in form.entries
        for name, text in sorted(entry.disclosed.items())
        if name not in _SHOWN
    ]
    withheld = [entry.n for entry in form.entries if entry.private > len(entry.disclosed)]
    if withheld:
        count = sum(entry.private - len(entry.disclosed) for entry in form.entries)
        said.append(f"Withheld or erased: {count} private fields of {entry_numbers(withheld)}.")
    if said:
        letter.heading("Remarks and private fields")
        letter.paragraph(*map(Line, said))


def signers(letter: Letter, form: Form, case: Case) -> None:
    """The full name of every key, so that a signature can be looked up in the bundle."""
    letter.heading("Keys that signed on this form", keep=12)
    for org, kid in dict.fromkeys((entry.org, entry.kid) for entry in form.ordered):
        own = [entry for entry in form.entries if (entry.org, entry.kid) == (org, kid)]
        signed = signature(case, *own)
        where = entry_numbers(signed.entries)
        letter.paragraph(
            Line(f"{kid}  {signed.name}, {signed.role}, {signed.organization}, {where}", size=SMALL)
        )
