"""What is on record of one form.

Its head, its samples, how they went from holder to holder, its envelopes; and the words for it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Final

from bailee.domain.acts.form import License, Opened, Preparation
from bailee.domain.custody import Form
from bailee.domain.fields import PRIVATE_OF_A_VISIT
from bailee.domain.numbers import grouped
from bailee.domain.pairing import of_kind
from bailee.frozen import frozen
from bailee.presentation import request_words, words
from bailee.presentation.copy_words import copies
from bailee.presentation.envelope_view import EnvelopeView, of_forms
from bailee.presentation.hand_overs import HandOver, hand_overs
from bailee.presentation.on_site_words import on_site
from bailee.presentation.sample_view import SampleView, sample_views
from bailee.presentation.signature_words import Signature, signature
from bailee.presentation.words import NOT_RECORDED, WITHHELD
from bailee.rules import wording
from bailee.rules.case import Case
from bailee.rules.registry import Finding

_NO_HOURS: Final = "no hours entered"

Fact = tuple[str, str]
"""A heading and what stands under it."""


@frozen
class FormView:
    """One form: its head, its samples, how they went from holder to holder, its envelopes as it sees them.

    `no_outdoor` says why there is no outdoor control; empty when one is there. `on_site` is what was read of
    the air there, `requests` what the laboratory is asked for where more is asked than the opening says,
    `copies` which papers were issued.
    """

    number: str
    visit: date
    zone: str
    firm: str
    lab: str
    body: Opened
    private: tuple[Fact, ...]
    opened_by: Signature
    samples: tuple[SampleView, ...]
    hand_overs: tuple[HandOver, ...]
    envelopes: tuple[EnvelopeView, ...]
    no_outdoor: str
    on_site: tuple[str, ...]
    requests: tuple[str, ...]
    copies: tuple[str, ...]

    @property
    def tags(self) -> dict[str, str]:
        """Project, method, analysis, turnaround, by their names in the opening; the last two as requested
        since.
        """
        told = {name: getattr(self.body, name) or NOT_RECORDED for name in words.TAGS}
        orders = {each.number: each.requested for each in self.live}
        if orders:
            told |= {name: request_words.one_value(orders, name) for name in ("analysis", "turnaround")}
        if self._of_both_media:
            told |= {"method": self._method, "analysis": self._analysis}
        return told

    @property
    def _of_both_media(self) -> bool:
        """Whether samples of air and of surfaces stand side by side."""
        return len({each.medium is None for each in self.live}) > 1

    @property
    def _method(self) -> str:
        """A form has one method of sampling, that of its air; of surfaces none is on record."""
        return words.by_medium(self.body.method or NOT_RECORDED, NOT_RECORDED)

    @property
    def _analysis(self) -> str:
        of_air, of_surfaces = (
            {each.number: each.requested for each in self.live if (each.medium is None) is air}
            for air in (True, False)
        )
        said = (request_words.one_value(each, "analysis") for each in (of_air, of_surfaces))
        return words.by_medium(*said)

    @property
    def request(self) -> str:
        """The analysis asked for, and its turnaround."""
        analysis, turnaround = self.tags["analysis"], self.tags["turnaround"]
        if self._of_both_media:
            return f"{analysis}; turnaround: {turnaround}"
        if NOT_RECORDED in (analysis, turnaround):
            return f"analysis: {analysis}; turnaround: {turnaround}"
        return f"{analysis}, {turnaround}"

    @property
    def facts(self) -> tuple[Fact, ...]:
        """What is known of the visit, each with its heading."""
        tags = tuple((words.TAGS[name], said) for name, said in self.tags.items())
        conditions = ((words.Heading.CONDITIONS, "; ".join(self.on_site)),) if self.on_site else ()
        requests = ((words.Heading.REQUESTED, "; ".join(self.requests)),) if self.requests else ()
        licensed = (words.Heading.LICENSE, "; ".join(self.license))
        building = (words.Heading.BUILDING, self.building)
        issued = ((words.Heading.ISSUED_COPY, "; ".join(self.copies)),) if self.copies else ()
        return (*tags, *requests, *self.private, licensed, building, *conditions, *issued)

    @property
    def license(self) -> tuple[str, ...]:
        """The license to sample: its number, where it counts and its last good day; and whether who samples
        also remediates here, where that was said.
        """
        also = {
            True: "the sampling firm also remediates here",
            False: "the sampling firm does not remediate here",
        }
        held = _license(self.body.license) if self.body.license else NOT_RECORDED
        return (held, *([also[self.body.remediator]] if self.body.remediator is not None else []))

    @property
    def building(self) -> str:
        """How the building was found on arrival."""
        return ", ".join(_building(self.body.preparation))

    @property
    def live(self) -> tuple[SampleView, ...]:
        """Samples that were collected and not voided."""
        return tuple(each for each in self.samples if each.entries and not each.void)

    def moved(self, row: HandOver) -> str:
        """Which samples a row is about, of all that anybody held."""
        return self._of_all(row.samples)

    @property
    def now(self) -> tuple[str, ...]:
        """Who holds the samples now and how, the same of several said once, and which were not in their
        envelope; nothing once custody ended.
        """
        alike: dict[str, list[str]] = {}
        for each in (sample for sample in self.live if sample.held_by):
            pending = f"; {words.STEPS['pending']}" if each.given else ""
            said = f"{each.holders[-1].name}, {each.secured or words.NO_WAY_NOW}{pending}"
            alike.setdefault(said, []).append(each.number)
        held = [f"{self._of_all(samples)}: held by {said}." for said, samples in alike.items()]
        missing = [each.number for each in self.live if each.status == "missing"]
        lost = [f"{self._of_all(missing)}: {words.NOT_IN_ENVELOPE}."] if missing else []
        return (*held, *lost)

    def _of_all(self, samples: Sequence[str]) -> str:
        held = {each.number for each in self.samples if each.holders}
        if set(samples) == held and len(held) > 1:
            return f"All {len(held)} samples"
        return f"{len(samples)} of {len(held)}: {', '.join(map(grouped, samples))}"


def form_view(form: Form, case: Case, findings: Sequence[Finding] = ()) -> FormView:
    """The read model of a form; `findings` are those of the rules on this case."""
    opened = form.opened.of(Opened)
    samples = sample_views(form, case, findings)
    return FormView(
        number=form.number,
        visit=opened.visit,
        zone=opened.zone,
        firm=organization(case, opened.parties.firm),
        lab=organization(case, opened.parties.lab),
        body=opened,
        private=tuple((name.capitalize(), private(form, name)) for name in PRIVATE_OF_A_VISIT),
        opened_by=signature(case, form.opened.entry),
        samples=tuple(samples.values()),
        hand_overs=tuple(hand_overs(form, case)),
        envelopes=tuple(
            of_forms(number, case, [(form, view, samples)]) for number, view in form.envelopes.items()
        ),
        no_outdoor=no_outdoor(form, findings),
        on_site=on_site(form),
        requests=request_words.requested(form),
        copies=copies(form),
    )


def envelope_view(number: str, case: Case, findings: Sequence[Finding] = ()) -> EnvelopeView:
    """An envelope over all its forms."""
    views = [
        (form, form.envelopes[number], sample_views(form, case, findings))
        for form in case.forms.values()
        if number in form.envelopes
    ]
    return of_forms(number, case, views)


def no_outdoor(form: Form, findings: Sequence[Finding]) -> str:
    """Why there is no outdoor control: the finding's own sentence, or that none is on record yet.

    Empty when one is there.
    """
    missing = next((f for f in findings if f.rule == "OC-01" and f.about == form.number), None)
    missing = missing or next((f for f in findings if _lost_control(form, f)), None)
    if missing:
        return missing.sentence + (f" {wording.start(missing.excepted)}." if missing.excepted else "")
    return "" if of_kind(form, "outdoor") else words.NO_OUTDOOR_YET


def _lost_control(form: Form, finding: Finding) -> bool:
    """Whether the only outdoor control of the form was lost on its way; with others left it is a warning."""
    grave = finding.severity in ("block", "flag") or bool(finding.excepted)
    return finding.rule == "OC-11" and finding.about in form.samples and grave


def private(form: Form, name: str) -> str:
    """A private field of the visit.

    Its words, or that it is withheld, or that nothing of the kind is on record.
    """
    entry = form.opened.entry
    if name in entry.disclosed:
        return entry.disclosed[name]
    return WITHHELD if entry.private > len(entry.disclosed) else NOT_RECORDED


def organization(case: Case, name: str) -> str:
    """An organization's full name, or its short one when its chain is not here."""
    found = case.organizations.get(name)
    return found.name if found else name


def _license(held: License) -> str:
    if not held.number:
        return f"{held.jurisdiction}: none held"
    valid = f"valid to {wording.day(held.valid_to)}" if held.valid_to else f"expiration date {NOT_RECORDED}"
    return f"{held.jurisdiction}, No. {held.number}, {valid}"


def _fresh_air(answers: Preparation) -> Iterator[str]:
    match answers.fresh_air, answers.fresh_air_off_h:
        case "none", _:
            yield "no fresh-air exchanger or attic fan"
        case None, _:
            yield f"fresh air: {words.NOT_STATED}"
        case "running", _:
            yield "fresh-air exchanger or fan running"
        case "off", hours:
            yield "fresh air off" + (f" {hours} h" if hours is not None else ", hours not stated")


def _building(answers: Preparation | None) -> Iterator[str]:
    if answers is None:
        yield NOT_RECORDED
        return
    closed, off, cleaned = answers.windows_closed_h, answers.purifiers_off_h, answers.cleaned_h_ago
    yield f"windows closed {closed} h" if closed is not None else f"windows closed: {_NO_HOURS}"
    yield f"air cleaners off {off} h" if off is not None else f"air cleaners: {_NO_HOURS}"
    yield f"ventilation {words.plain(answers.ventilation)}"
    yield from _fresh_air(answers)
    yield f"cleaned {cleaned} h before" if cleaned is not None else f"cleaning: {_NO_HOURS}"
    what, works = "painting, demolition or construction", answers.works_h_ago
    yield f"{what} {works} h before" if works is not None else f"{what}: {_NO_HOURS}"
