"""What else was signed on a form: decisions, corrections, remarks, and by which keys."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any, Final

from bailee.documents import printed, signature_blocks
from bailee.documents.letter import INNER, SMALL, Cell, Column, Letter, Line
from bailee.domain.acts.form import (
    Collected,
    Copied,
    Corrected,
    Decision,
    Disposed,
    Excepted,
    Forwarded,
    Held,
    Opened,
    Received,
    Relinquished,
    Sealed,
    Shipped,
    Unsealed,
    Voided,
)
from bailee.domain.acts.privacy import Erased, RetentionHeld, RetentionReleased
from bailee.domain.custody import Form
from bailee.domain.numbers import grouped
from bailee.domain.statements import Recorded
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


def other_acts(letter: Letter, form: Form, case: Case) -> None:
    """Decisions of the laboratory, voids, opened seals, exceptions, the end of custody: each with its signature."""
    entries = [entry for entry in form.ordered if not isinstance(entry.body, _ELSEWHERE)]
    if not entries:
        return
    letter.heading("Decisions and other signed acts")
    letter.table(
        _OTHER_ACTS,
        [
            [
                [Line(printed.plain(entry.act).capitalize(), bold=True)],
                printed.signed_by(signature_blocks.signature(case, entry)),
                [Line(words) for words in _says(entry)],
            ]
            for entry in entries
        ],
    )


def corrections(letter: Letter, form: Form, case: Case) -> None:
    """The value that was said, struck through, beside the one that should have been (21 CFR 11.10(e))."""
    if not form.corrections:
        return
    letter.heading("Corrections", "the earlier value stays in the log")
    rows: list[list[Cell]] = []
    for each in form.corrections:
        target = (
            f"{printed.plain(each.target.act)}, entry {each.target.n}" if each.target else "not on this form"
        )
        new = [Line(_value(each.body.new), bold=True), Line(f"reason: {printed.plain(each.body.reason)}")]
        if each.why_not:
            new.append(Line(f"Not followed: {each.why_not}", bold=True))
        signed = printed.signed_by(signature_blocks.signature(case, each.entry))
        rows.append(
            [
                [Line(target)],
                [Line(printed.plain(each.body.field))],
                [Line(_value(each.body.old), struck=True)],
                new,
                signed,
            ]
        )
    letter.table(_CORRECTIONS, rows)


def private(letter: Letter, form: Form) -> None:
    """Free text that is disclosed and has no place above, and how much is withheld where."""
    said = [
        f"Entry {entry.n}, {printed.plain(entry.act)}, {printed.plain(name)}: {words}"
        for entry in form.entries
        for name, words in sorted(entry.disclosed.items())
        if name not in _SHOWN
    ]
    withheld = [entry.n for entry in form.entries if entry.private > len(entry.disclosed)]
    if withheld:
        count = sum(entry.private - len(entry.disclosed) for entry in form.entries)
        said.append(
            f"Withheld or erased: {count} private fields of {signature_blocks.entry_numbers(withheld)}."
        )
    if said:
        letter.heading("Remarks and private fields")
        letter.paragraph(*map(Line, said))


def signers(letter: Letter, form: Form, case: Case) -> None:
    """The full name of every key, so that a signature can be looked up in the bundle."""
    letter.heading("Keys that signed on this form", keep=12)
    for org, kid in dict.fromkeys((entry.org, entry.kid) for entry in form.ordered):
        own = [entry for entry in form.entries if (entry.org, entry.kid) == (org, kid)]
        signed = signature_blocks.signature(case, *own)
        where = signature_blocks.entry_numbers(signed.entries)
        letter.paragraph(
            Line(f"{kid}  {signed.name}, {signed.role}, {signed.organization}, {where}", size=SMALL)
        )


def _says(entry: Recorded) -> Iterator[str]:
    match entry.body:
        case Decision() as body:
            yield from _of_decision(entry, body)
        case Forwarded() as body:
            yield from (
                f"{grouped(item.sample)} as {grouped(item.child)}: {printed.plain(item.item)}, {', '.join(item.condition)}"
                for item in body.items
            )
            yield f"To {body.to}, for {printed.plain(body.purpose)}"
        case Voided() as body:
            yield f"{grouped(body.sample)}: {printed.plain(body.reason)}"
        case Disposed() as body:
            yield f"{printed.plain(body.how).capitalize()} {signature_blocks.when(body.at)}: {', '.join(map(grouped, body.samples))}"
        case Copied() as body:
            yield from _of_copy(body)
        case Excepted() as body:
            yield f"{body.rule} about {printed.about(body.about)}: {printed.plain(body.reason)}"
        case Unsealed() as body:
            yield f"Envelope {grouped(body.envelope)}, seal {printed.seal(body.seal)}: {printed.plain(body.reason)}"
        case Erased() | RetentionHeld() | RetentionReleased() as body:
            yield _of_private(body)
        case _:
            yield f"{len(entry.data.get('statements', ()))} statements"


def _of_decision(entry: Recorded, body: Decision) -> Iterator[str]:
    yield ", ".join(
        grouped(s) + (f" = {body.lab_numbers[s]}" if s in body.lab_numbers else "") for s in body.samples
    )
    if body.reasons:
        yield f"Reasons: {', '.join(map(printed.plain, body.reasons))}"
    if body.qualified:
        yield "Results will be qualified"
    if body.called:
        told = [entry.disclosed.get(name, "") for name in ("called_person", "answer")]
        yield ": ".join(filter(None, [f"Client called {signature_blocks.when(body.called)}", *told]))
    if body.resample:
        yield f"New sample: {printed.plain(body.resample)}"


def _of_copy(body: Copied) -> Iterator[str]:
    what = "Custody record" if body.of == "record" else "Result"
    yield f"{what}{f' {body.reference}' if body.reference else ''}, version {body.version}; tells of entries up to {body.entries}"
    if body.reason:
        yield f"Given out again: {printed.plain(body.reason)}"
    if body.file:
        yield f"SHA-256 of the file: {body.file}"


def _of_private(body: Erased | RetentionHeld | RetentionReleased) -> str:
    if isinstance(body, Erased):
        return f"{body.count} private field{'s' if body.count > 1 else ''} of statement {body.statement[:8]}"
    return printed.plain(body.reason).capitalize()


def _value(value: Any) -> str:
    if isinstance(value, str):
        return value or "(empty)"
    return "(nothing)" if value is None else json.dumps(value, ensure_ascii=False)
