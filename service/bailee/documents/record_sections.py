"""Sections of a custody record around its tables: decisions and corrections, what the rules found, the four
verdicts, private fields, and by which keys all of it was signed.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from typing import Final

from bailee.documents.letter import INNER, SMALL, Cell, Column, Letter, Line
from bailee.domain.acts.form import (
    Collected,
    Corrected,
    Held,
    Opened,
    Received,
    Relinquished,
    Sealed,
    Shipped,
    Stored,
    TakenIn,
    Withdrawn,
)
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.custody import Form
from bailee.presentation import state_words, words
from bailee.presentation.act_words import corrections, says
from bailee.presentation.form_view import FormView
from bailee.presentation.signature_words import Signature, entry_numbers, signature
from bailee.rules import qualified, wording
from bailee.rules.case import Case
from bailee.rules.registry import ORDER, Finding
from bailee.rules.verdicts import Verdict

_OTHER_ACTS: Final = (Column("Entry", 40), Column("Signed by", 68), Column("What was entered", INNER - 108))
_CORRECTIONS: Final = (
    Column("Entry", 30),
    Column("Field", 26),
    Column("As entered", 30),
    Column("Corrected to", 36),
    Column("Corrected by", INNER - 122),
)
_FINDINGS: Final = (
    Column("Rule", 15),
    Column("About", 30),
    Column("Finding, and what to do now", INNER - 45),
)
_SHOWN: Final = frozenset(
    {"client", "site", "contact", "place", "called_person", "answer", "courier_name", "bill_to"}
)
_ELSEWHERE: Final = (
    Opened,
    Collected,
    SurfaceCollected,
    Held,
    Relinquished,
    Received,
    Sealed,
    Shipped,
    TakenIn,
    Stored,
    Withdrawn,
    Corrected,
)
"""Acts whose signatures stand in a section of their own."""


_HERE: Final = re.compile(
    r"Nothing to fix: [^.]* printed on the custody record\.\s*|: it is printed on the custody record"
)
"""What a remedy says of this very paper, and needs not be done."""


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
    letter.heading("Decisions and other signed acts", keep=28)
    letter.table(
        _OTHER_ACTS,
        [
            [
                [Line(words.plain(entry.act).capitalize(), bold=True)],
                signed_by(signature(case, entry)),
                [Line(said) for said in says(entry, form)],
            ]
            for entry in entries
        ],
    )


def list_corrections(letter: Letter, form: Form, case: Case) -> None:
    """The value that was said, struck through, beside the one that should have been (21 CFR 11.10(e))."""
    if not form.corrections:
        return
    letter.heading("Corrections", "the earlier value stays on record")
    rows = []
    for each in corrections(form, case):
        new = [Line(each.new, bold=True), Line(f"reason: {each.reason}")]
        if each.why_not:
            new.append(Line(f"{words.NOT_FOLLOWED}: {each.why_not}", bold=True))
        old = [Line(each.old, struck=True)]
        rows.append([[Line(each.target)], [Line(each.field)], old, new, signed_by(each.by)])
    letter.table(_CORRECTIONS, rows)


def at_a_glance(letter: Letter, form: FormView, findings: Sequence[Finding]) -> None:
    """In what state the samples are, what hurries, and what was found, counted: at the top, so that nobody
    has to turn the page to learn that there is something.
    """
    counts = [(name, sum(1 for each in findings if each.severity == name)) for name in ORDER]
    found = [words.severity_count(name, n) for name, n in counts if n]
    told = (state_words.trouble(form), state_words.hurry(form))
    if any(told) or found:
        letter.space(1.2)
        see = [Line(f"{wording.listed(found)}: see Findings.", bold=True)] if found else []
        letter.box(*(Line(said, bold=True, size=10) for said in told if said), *see)


def list_findings(letter: Letter, form: Form, findings: Sequence[Finding], *, judged: bool) -> None:
    """All findings by severity, each with what to do now; `judged`: the verdicts follow."""
    letter.heading("Findings", f"{len(findings)} in all" if findings else "", keep=30 if findings else 16)
    if not findings:
        letter.paragraph(Line(f"{words.NO_FINDINGS} {words.SEE_VERDICTS}" if judged else words.NO_FINDINGS))
    corrected = {each.body.field for each in form.corrections}
    for severity in ORDER:
        found = [each for each in findings if each.severity == severity]
        if found:
            letter.need(20)
            letter.space(1)
            letter.paragraph(Line(words.severity_meaning(severity), bold=True))
            letter.space(0.6)
            letter.table(_FINDINGS, [_finding(each, corrected) for each in found])


def list_verdicts(letter: Letter, verdicts: Sequence[Verdict]) -> None:
    """The four verdicts, each with what was not checked."""
    letter.heading("Four verdicts, each with what was not checked", keep=20)
    for each in verdicts:
        letter.need(12)
        letter.space(0.8)
        state = words.verdict(each.area, each.state)
        letter.paragraph(Line(f"{words.AREAS[each.area]}: {state}", bold=True))
        unchecked = f"{words.NOT_CHECKED}: {' '.join(each.not_checked)}"
        letter.paragraph(Line(each.sentence), Line(unchecked, soft=True), indent=4)


def _finding(each: Finding, corrected: Collection[str]) -> list[Cell]:
    """For people who read no program: facts that were corrected by their names in words, and no remedy that
    points to this very paper.
    """
    sentence = each.sentence
    for name in corrected:
        sentence = sentence.replace(name, words.plain(name))
    now = _HERE.sub("", each.remedy).replace("on the custody record", "on this record")
    said = [Line(sentence), *([Line(f"{words.NOW}: {now}", soft=True)] if now else [])]
    if each.excepted:
        said.append(Line(wording.start(each.excepted), bold=True))
    entries = [Line(entry_numbers(each.entries), soft=True, size=SMALL)] if each.entries else []
    return [[Line(each.rule, bold=True)], [Line(words.number(each.about)), *entries], said]


def qualifications(letter: Letter, form: FormView) -> None:
    """What a result must be reported with, once for all samples of which the same is said."""
    said = [each for each in form.samples if each.qualification]
    if said:
        heading = words.over_qualifications(each.qualification for each in said)
        letter.heading(heading, "for the laboratory to state with each result")
        for text, numbers in for_results(form):
            letter.need(10)
            letter.space(0.8)
            letter.paragraph(Line(wording.printed(numbers), bold=True), Line(text), indent=4)


def for_results(form: FormView) -> Sequence[tuple[str, Sequence[str]]]:
    """What is to be said with results, each with the samples that it is said of."""
    alike: dict[str, list[str]] = {}
    for each in form.samples:
        if each.qualification:
            alike.setdefault(qualified.without_orders(each.qualification), []).append(each.number)
    return tuple(alike.items())


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
