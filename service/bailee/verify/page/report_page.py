"""A report as HTML, in the words of `report_text.render_text` and no others.

Everything that came out of the file is escaped.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from html import escape

from bailee.domain.numbers import grouped
from bailee.presentation import words
from bailee.presentation.sample_view import SampleView
from bailee.presentation.words import Heading
from bailee.rules.registry import Finding
from bailee.rules.verdicts import Verdict
from bailee.verify import report_text
from bailee.verify.disclaimer import LIMITS, TITLE
from bailee.verify.result import BROKEN, NOT_UNDERSTOOD, NOT_YOURS, Fault, Remark, Report


def render(found: Report) -> str:
    """The report from its heading to the exporter's own words, as one fragment below an `h1`."""
    parts = (
        _head,
        _verdicts,
        _faults,
        _remarks,
        _findings,
        _samples,
        _entries,
        _signers,
        _endorsements,
        _limits,
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


def _head(found: Report) -> Iterator[str]:
    tone = {BROKEN: "broken", NOT_YOURS: "other", NOT_UNDERSTOOD: "other"}.get(found.state, "whole")
    yield f'<header class="head {tone}">'
    yield f'<h2 tabindex="-1">Form <span class="number">{_said(grouped(found.form))}</span></h2>'
    yield f'<p class="state">{_said(report_text.records(found))}</p>'
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
        if visit.told:
            yield from _list(_said(f"{name}: {value}") for name, value in sorted(visit.told.items()))
        beside = [f"{words.Heading.REQUESTED}: {each}" for each in visit.requests]
        beside += [f"{words.Heading.CONDITIONS}: {each}" for each in visit.on_site]
        if beside:
            yield from _list(map(_said, beside))
    yield f'<p class="quiet">{_said(report_text.looked_at(found))}</p>'
    yield from (f'<p class="quiet">{_said(report_text.stamped(each))}</p>' for each in found.stamps)
    yield "</header>"


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
        yield from _section(
            report_text.WHO_HELD_WHAT, (line for each in found.samples for line in _sample(each))
        )


def _sample(sample: SampleView) -> Iterator[str]:
    number = f'<span class="number">{_said(grouped(sample.number))}</span>'
    yield f'<article class="sample"><h4>{Heading.SAMPLE} {number}</h4>'
    yield from (f"<p>{_said(line)}</p>" for line in report_text.drawn(sample))
    yield '<ol class="line">'
    for holder in sample.holders:
        first, *rest = (_said(line.strip()) for line in report_text.held(sample, holder))
        yield f"<li><p>{first}</p>"
        yield from _list(rest, "kept")
        yield "</li>"
    yield "</ol></article>"


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


def _limits(_found: Report) -> Iterator[str]:
    yield from _section(TITLE, _list((_said(each.sentence) for each in LIMITS), "unchecked"))


def _checked_with(found: Report) -> Iterator[str]:
    yield from _section("Checked with", _list(map(_said, report_text.checked_with(found)), "plainlist keys"))


def _claims(found: Report) -> Iterator[str]:
    lines = _list(map(_said, report_text.claims(found)), "plainlist keys")
    yield from _section("Entered by the exporter, not signed", lines)
