"""What the rules found, and the four verdicts, on a custody record."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from bailee.documents import printed, signature_blocks
from bailee.documents.letter import INNER, SMALL, Cell, Column, Letter, Line
from bailee.domain.custody import Form
from bailee.domain.numbers import grouped
from bailee.rules import wording
from bailee.rules.qualified import wording as wording_of
from bailee.rules.registry import ORDER, Finding
from bailee.rules.verdicts import Verdict

_SHORT: Final = {"refuse": "refusal", "block": "block", "flag": "flag", "warn": "warning", "note": "note"}
_FINDINGS: Final = (
    Column("Rule", 15),
    Column("About", 30),
    Column("Finding, and what to do now", INNER - 45),
)


def at_a_glance(letter: Letter, findings: Sequence[Finding]) -> None:
    """What was found, counted at the top, so that nobody has to turn the page to learn that there is something."""
    counts = [(sum(1 for each in findings if each.severity == name), name) for name in ORDER]
    said = [f"{n} {_SHORT[name]}{'s' if n != 1 else ''}" for n, name in counts if n]
    if said:
        letter.space(1.2)
        letter.box(Line(f"{wording.listed(said)}: see Findings.", bold=True))


def list_findings(letter: Letter, findings: Sequence[Finding]) -> None:
    """All findings by severity, each with what to do now."""
    letter.heading("Findings", f"{len(findings)} in all" if findings else "")
    if not findings:
        letter.paragraph(Line("The rules found nothing. See below for what they could not check."))
    for severity in ORDER:
        found = [each for each in findings if each.severity == severity]
        if found:
            letter.need(20)
            letter.space(1)
            letter.paragraph(Line(printed.SEVERITIES[severity], bold=True))
            letter.space(0.6)
            letter.table(_FINDINGS, [_finding(each) for each in found])


def list_verdicts(letter: Letter, verdicts: Sequence[Verdict]) -> None:
    """The four verdicts, each with what was not checked."""
    letter.heading("Four verdicts, each with what was not checked", keep=20)
    for each in verdicts:
        letter.need(12)
        letter.space(0.8)
        letter.paragraph(Line(f"{printed.AREAS[each.area]}: {each.state}", bold=True))
        letter.paragraph(
            Line(each.sentence), Line(f"Not checked: {' '.join(each.not_checked)}", soft=True), indent=4
        )


def _finding(each: Finding) -> list[Cell]:
    said = [Line(each.sentence), Line(f"Now: {each.remedy}", soft=True)]
    if each.excepted:
        said.append(Line(wording.start(each.excepted), bold=True))
    entries = (
        [Line(signature_blocks.entry_numbers(each.entries), soft=True, size=SMALL)] if each.entries else []
    )
    return [[Line(each.rule, bold=True)], [Line(printed.about(each.about)), *entries], said]


def qualifications(letter: Letter, form: Form, findings: Sequence[Finding]) -> None:
    """What a result must be reported with, sample by sample."""
    said = [(each.number, wording_of(form, each, findings)) for each in form.samples.values()]
    said = [(number, words) for number, words in said if words]
    if said:
        letter.heading("Qualified results", "to be printed with every result")
        for number, words in said:
            letter.paragraph(Line(grouped(number), bold=True), Line(words), indent=4)
