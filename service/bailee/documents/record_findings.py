"""What the rules found, and the four verdicts, on a custody record."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from bailee.documents.letter import INNER, SMALL, Cell, Column, Letter, Line
from bailee.domain.numbers import grouped
from bailee.presentation import words
from bailee.presentation.form_view import FormView
from bailee.presentation.signature_words import entry_numbers
from bailee.presentation.words import Heading
from bailee.rules import wording
from bailee.rules.registry import ORDER, Finding
from bailee.rules.verdicts import Verdict

_FINDINGS: Final = (
    Column("Rule", 15),
    Column("About", 30),
    Column("Finding, and what to do now", INNER - 45),
)


def at_a_glance(letter: Letter, findings: Sequence[Finding]) -> None:
    """What was found, counted at the top, so that nobody has to turn the page to learn that there is
    something.
    """
    counts = [(name, sum(1 for each in findings if each.severity == name)) for name in ORDER]
    said = [words.severity_count(name, n) for name, n in counts if n]
    if said:
        letter.space(1.2)
        letter.box(Line(f"{wording.listed(said)}: see Findings.", bold=True))


def list_findings(letter: Letter, findings: Sequence[Finding]) -> None:
    """All findings by severity, each with what to do now."""
    letter.heading("Findings", f"{len(findings)} in all" if findings else "")
    if not findings:
        letter.paragraph(Line(f"{words.NO_FINDINGS} {words.SEE_VERDICTS}"))
    for severity in ORDER:
        found = [each for each in findings if each.severity == severity]
        if found:
            letter.need(20)
            letter.space(1)
            letter.paragraph(Line(words.severity_meaning(severity), bold=True))
            letter.space(0.6)
            letter.table(_FINDINGS, [_finding(each) for each in found])


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


def _finding(each: Finding) -> list[Cell]:
    said = [Line(each.sentence), Line(f"{words.NOW}: {each.remedy}", soft=True)]
    if each.excepted:
        said.append(Line(wording.start(each.excepted), bold=True))
    entries = [Line(entry_numbers(each.entries), soft=True, size=SMALL)] if each.entries else []
    return [[Line(each.rule, bold=True)], [Line(words.number(each.about)), *entries], said]


def qualifications(letter: Letter, form: FormView) -> None:
    """What a result must be reported with, sample by sample."""
    said = [each for each in form.samples if each.qualification]
    if said:
        letter.heading(Heading.QUALIFIED, "to be printed with every result")
        for each in said:
            letter.paragraph(Line(grouped(each.number), bold=True), Line(each.qualification), indent=4)
