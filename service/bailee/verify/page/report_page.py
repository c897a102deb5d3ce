"""A report as HTML, in the words of `report_text.render_text` and no others.

Everything that came out of the file is escaped.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from html import escape
from typing import Final

from bailee.domain.numbers import grouped
from bailee.presentation import custody_drawing, custody_line, words
from bailee.presentation.sample_view import SampleView
from bailee.presentation.words import Heading
from bailee.rules.registry import ORDER, Finding
from bailee.rules.verdicts import Verdict
from bailee.verify import report_text
from bailee.verify.disclaimer import LIMITS, TITLE
from bailee.verify.result import BROKEN, NOT_UNDERSTOOD, NOT_YOURS, Fault, Remark, Report

_NOT_SHOWN: Final = "What is not shown"


def render(found: Report) -> str:
    """The report from its summary, which one screen and one sheet hold, to the exporter's own words, as one
    fragment below an `h1`. What is not shown stands before what is.
    """
    parts = (
        _summary,
        _faults,
        _remarks,
        _findings,
        _verdicts,
        _of_the_visit,
        _samples,
        _entries,
        _signers,
        _endorsements,
        _checked_with,
        _claims,
    )
    return "\n".join(line for part in parts for line in part(found))


def _said(text: str) -> str:
    return escape(report_text.plain(text))


def _section(title: str, lines: Iterable[str], count: int | None = None) -> Iterator[str]:
    told = "" if count is None else f' <span class="count">{count}</span>'
    yield f"<section><h3>{title}{told}</h3>"
    yield from lines
    yield "</section>"


def _list(lines: Iterable[str], of: str = "plainlist") -> Iterator[str]:
    yield f'<ul class="{of}">'
    yield from (f"<li>{line}</li>" for line in lines)
    yield "</ul>"


def _summary(found: Report) -> Iterator[str]:
    yield '<div class="summary">'
    yield from _head(found)
    yield from _not_shown(found)
    yield "</div>"


def _head(found: Report) -> Iterator[str]:
    tone = {BROKEN: "broken", NOT_YOURS: "other", NOT_UNDERSTOOD: "other"}.get(found.state, "whole")
    alert = ' role="alert"' if found.state == BROKEN else ""
    yield f'<header class="head {tone}">'
    yield f'<h2 tabindex="-1">Form <span class="number">{_said(grouped(found.form))}</span></h2>'
    yield from (f'<p class="alarm" role="alert">{_said(each)}</p>' for each in _broken_chain(found))
    yield f'<p class="state"{alert}>{_said(report_text.records(found))}</p>'
    if found.faults:
        yield f'<p class="leftout">{_said(_gravest(found))}</p>'
    yield from (f"<p>{_said(each.sentence)}</p>" for each in found.other_keys)
    yield from (f'<p class="state">{_said(each)}</p>' for each in report_text.unpinned(found))
    others = [each for each in found.verdicts if each.area != "records"]
    if others:
        yield from _list(map(_badge, others), "badges")
    if found.visit:
        visit = found.visit
        yield (
            f"<p>{_said(f'Visit of {visit.day} ({visit.zone}), {words.parties(visit.firm, visit.lab)}')}</p>"
        )
    yield f"<p>{_said(_tally(found))}</p>"
    yield f'<p class="quiet">{_said(report_text.looked_at(found))}</p>'
    yield from (f'<p class="quiet">{_said(report_text.stamped(each))}</p>' for each in found.stamps)
    yield "</header>"


def _broken_chain(found: Report) -> Iterator[str]:
    """That a link of custody is missing, which unaltered records do not heal."""
    for each in found.verdicts:
        if (each.area, each.state) == ("custody", "broken"):
            yield f"{_state(each).upper()}. {each.sentence}"


def _gravest(found: Report) -> str:
    """The first fault, which says what became of the records."""
    return f"{found.faults[0].place}: {found.faults[0].sentence}"


def _tally(found: Report) -> str:
    """How much of what there is below."""
    by = [(each, sum(1 for one in found.findings if one.severity == each)) for each in ORDER]
    told = [words.severity_count(severity, many) for severity, many in by if many]
    told = told or [words.NO_FINDINGS.lower().rstrip(".")]
    counts = ((found.samples, "sample", ""), (found.entries, "entry", "entries"), (found.signers, "key", ""))
    for things, one, many in counts:
        told.append(report_text.counted(len(things), one, many))
    if found.faults:
        told.insert(0, report_text.counted(len(found.faults), "fault"))
    return ", ".join(told) + "."


def _not_shown(found: Report) -> Iterator[str]:
    """What this file does not show, and what no file can."""
    yield f'<section class="unshown"><h3>{_NOT_SHOWN}</h3>'
    lacking = [each.sentence for each in found.not_checked]
    lacking += [each for verdict in found.verdicts for each in verdict.not_checked]
    lacking = list(dict.fromkeys(lacking))
    for title, lines in ((words.NOT_CHECKED, lacking), (TITLE, [each.sentence for each in LIMITS])):
        if lines:
            yield f'<details><summary>{title} <span class="count">{len(lines)}</span></summary>'
            yield from _list(map(_said, lines), "unchecked")
            yield "</details>"
    yield "</section>"


def _of_the_visit(found: Report) -> Iterator[str]:
    if found.visit is None:
        return
    visit = found.visit
    told = [f"{name}: {value}" for name, value in sorted(visit.told.items())]
    told += [f"{Heading.REQUESTED}: {each}" for each in visit.requests]
    told += [f"{Heading.CONDITIONS}: {each}" for each in visit.on_site]
    if told:
        yield from _section("The site visit", _list(map(_said, told)))


def _badge(verdict: Verdict) -> str:
    tone, title = verdict.state.replace(" ", "-"), words.AREAS[verdict.area]
    return f'<span class="badge {tone}">{title}: {_state(verdict)}</span>'


def _state(verdict: Verdict) -> str:
    return words.verdict(verdict.area, verdict.state)


def _verdicts(found: Report) -> Iterator[str]:
    yield '<section><h3>Verdicts</h3><div class="verdicts">'
    for verdict in found.verdicts:
        yield from _verdict(verdict)
    yield "</div></section>"


def _verdict(verdict: Verdict) -> Iterator[str]:
    tone = verdict.state.replace(" ", "-")
    yield f'<article class="verdict {tone}"><h4>{words.AREAS[verdict.area]}</h4>'
    yield f'<p class="badge">{_state(verdict)}</p><p>{_said(verdict.sentence)}</p>'
    if verdict.not_checked:
        yield f'<p class="quiet">{words.NOT_CHECKED}:</p>'
        yield from _list(map(_said, verdict.not_checked), "unchecked")
    yield "</article>"


def _faults(found: Report) -> Iterator[str]:
    if found.faults:
        yield from _section("Faults of the records", _list(map(_fault, found.faults)), len(found.faults))
    if found.left_out:
        yield f'<p class="leftout">{_said(report_text.left_out(found))}</p>'


def _fault(fault: Fault) -> str:
    return (
        '<div class="finding block"><p class="where"><span class="badge">fault</span>'
        f' {_said(str(fault.place))}</p><p>{_said(fault.sentence)}</p><p class="quiet">step {fault.step},'
        f" {report_text.STEPS[fault.step]} ({_said(fault.code)})</p></div>"
    )


def _remarks(found: Report) -> Iterator[str]:
    if found.remarks:
        yield from _section("Remarks", _list(map(_remark, found.remarks)), len(found.remarks))


def _remark(remark: Remark) -> str:
    return (
        '<div class="finding warn"><p class="where"><span class="badge">remark</span>'
        f" {_said(str(remark.place))}</p><p>{_said(remark.sentence)}</p></div>"
    )


def _samples(found: Report) -> Iterator[str]:
    if found.samples:
        lines = custody_line.custody_lines(found.samples, _bounds(found))
        parts = (*_time(lines), *(line for each in found.samples for line in _sample(each, found.findings)))
        yield from _section(report_text.WHO_HELD_WHAT, parts)


def _bounds(found: Report) -> custody_line.Bounds:
    """Before when no entry of the form can have been signed, where the file shows it."""
    own = (each for each in found.entries if each.chain == f"form/{found.form}" and each.not_before)
    return {each.n: datetime.fromisoformat(str(each.not_before)) for each in own}


def _time(lines: Sequence[custody_line.CustodyLine]) -> Iterator[str]:
    """The line of time of samples that went together, and the same as a table."""
    for n, each in enumerate(lines[: custody_line.MOST_LINES]):
        drawn = custody_drawing.svg(
            custody_drawing.drawing(each, legend=n == 0), report_text.plain(each.told)
        )
        yield f'<figure class="time"><figcaption>{_said(each.title)}</figcaption>{report_text.plain(drawn)}'
        yield '<details><summary>The same as a table</summary><table role="table">'
        yield f'<caption>{_said(each.named)}</caption><thead role="rowgroup"><tr role="row">'
        yield from (
            f'<th scope="col" role="columnheader">{_said(title)}</th>' for title in custody_line.HEADINGS
        )
        yield '</tr></thead><tbody role="rowgroup">'
        for stage in each.stages:
            cells = zip(custody_line.HEADINGS, stage.cells, strict=True)
            row = (f'<td role="cell" data-label="{title}">{_said(said)}</td>' for title, said in cells)
            yield f'<tr role="row">{"".join(row)}</tr>'
        yield "</tbody></table></details></figure>"
    if (left := len(lines) - custody_line.MOST_LINES) > 0:
        yield f'<p class="quiet">{left} more ways are not drawn: see below.</p>'


def _sample(sample: SampleView, findings: Sequence[Finding]) -> Iterator[str]:
    named = any(each.severity != "note" and each.concerns(sample.number) for each in findings)
    number = f'<span class="number">{_said(grouped(sample.number))}</span>'
    yield f'<details class="sample"{"" if sample.is_in_order and not named else " open"}>'
    state = f'<span class="quiet">{_said(sample.state)}</span>'
    yield f"<summary><h4>{Heading.SAMPLE} {number}</h4> {state}</summary>"
    yield from (f"<p>{_said(line)}</p>" for line in report_text.drawn(sample))
    yield '<ol class="line">'
    for holder in sample.holders:
        first, *rest = (_said(line.strip()) for line in report_text.held(sample, holder))
        yield f"<li><p>{first}</p>"
        yield from _list(rest, "kept")
        yield "</li>"
    yield "</ol></details>"


def _findings(found: Report) -> Iterator[str]:
    if found.findings:
        yield from _section("Findings", _list(map(_finding, found.findings)), len(found.findings))


def _finding(each: Finding) -> str:
    excepted = f" [{each.excepted}]" if each.excepted else ""
    return (
        f'<div class="finding {each.severity}"><p class="where"><span'
        f' class="badge">{words.severity(each.severity)}</span>'
        f" {each.rule}</p><p>{_said(each.sentence + excepted)}</p></div>"
    )


def _signers(found: Report) -> Iterator[str]:
    if found.signers:
        yield from _section(
            "Signers", _list(_said(report_text.signer(each)) for each in found.signers), len(found.signers)
        )


def _endorsements(found: Report) -> Iterator[str]:
    if found.endorsements:
        yield from _section(
            "Endorsements between organizations, which are no trust by themselves",
            _list(_said(report_text.endorsement(each)) for each in found.endorsements),
        )


def _entries(found: Report) -> Iterator[str]:
    yield f"<section><h3>Entries</h3><details><summary>{_said(report_text.entries_title(found))}</summary>"
    yield from _list((_said(report_text.entry(line)) for line in found.entries), "entries")
    yield "</details></section>"


def _checked_with(found: Report) -> Iterator[str]:
    yield from _section("Checked with", _list(map(_said, report_text.checked_with(found)), "plainlist keys"))


def _claims(found: Report) -> Iterator[str]:
    lines = _list(map(_said, report_text.claims(found)), "plainlist keys")
    yield from _section("Entered by the exporter, not signed", lines)
