"""The registry: every rule by id, and the one function that asks them all.

A rule yields a `Hit` for each fault it sees; the registry adds the rule's own words, turns a block into a flag when the
thing has already left the building, and marks what a second person has excepted. Severities:

    refuse  not recorded at all, because it cannot be true or is not authentic (decided where statements are read)
    block   nothing may be sealed, shipped or released until cured or excepted
    flag    a block found after the fact: recorded and shown, never hidden
    warn    allowed, must be acknowledged, is printed
    note    printed
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Final, Literal

from bailee.domain.custody import Form, Said, Sample
from bailee.domain.form_acts import Excepted
from bailee.frozen import frozen
from bailee.rules import limits, remedies
from bailee.rules.case import Case

Severity = Literal["refuse", "block", "flag", "warn", "note"]
Area = Literal["records", "custody", "media", "comparison"]
"""Which of the four verdicts a finding speaks to; `media` is media and sampling."""

ORDER: Final[tuple[Severity, ...]] = ("refuse", "block", "flag", "warn", "note")


@frozen
class Hit:
    """One fault a rule saw. `about` is a sample, form, envelope, lot or key; `excuses` the kid an exception may not come from.

    `by` are the thresholds that were crossed: where the laboratory's is the stricter one, the finding says so. `remedy` is what to do
    where the rule's own does not fit the situation, `names` the numbers it speaks of beside `about`. `is_proposed`: it rests on what is
    about to be done, so a block stays one whatever has left the building before.
    """

    about: str
    sentence: str
    severity: Severity | None = None
    entries: tuple[int, ...] = ()
    excuses: str | None = None
    by: tuple[str, ...] = ()
    remedy: str = ""
    names: tuple[str, ...] = ()
    is_proposed: bool = False

    @classmethod
    def on(
        cls, sample: Sample, sentence: str, severity: Severity | None = None, *, by: tuple[str, ...] = ()
    ) -> Hit:
        """A fault of one sample that rests on what its collector said."""
        return cls(sample.number, sentence, severity, tuple(claim.entry.n for claim in sample.claims), by=by)


Check = Callable[[Case], Iterator[Hit]]


@frozen
class Rule:
    """One rule of the trade. `source` is printed in the rule table; `remedy` says what to do now, `afterwards` once it has left.

    Both name commands as `remedies` reads them. A `last` rule is asked after all others, with their open blocks in `Case.blocked`. `reasons` are those an exception
    must give, `signers` the roles that may sign it; none listed means any.
    """

    id: str
    title: str
    severity: Severity
    area: Area
    source: str
    remedy: str
    may_be_excepted: bool
    check: Check
    last: bool = False
    reasons: frozenset[str] = frozenset()
    signers: frozenset[str] = frozenset()
    afterwards: str = ""


@frozen
class Refusal:
    """A rule decided where statements are read and signatures checked; `by` names the function that does."""

    id: str
    title: str
    source: str
    by: str


@frozen
class Finding:
    """What a rule found, in words for a person, with what to do about it."""

    rule: str
    severity: Severity
    area: Area
    about: str
    sentence: str
    remedy: str
    entries: tuple[int, ...] = ()
    excepted: str = ""
    is_proposed: bool = False


RULES: Final[dict[str, Rule]] = {}
REFUSALS: Final[dict[str, Refusal]] = {}


def rule(
    rule_id: str,
    title: str,
    severity: Severity,
    area: Area,
    source: str,
    remedy: str,
    *,
    may_be_excepted: bool = False,
    last: bool = False,
    reasons: Iterable[str] = (),
    signers: Iterable[str] = (),
    afterwards: str = "",
) -> Callable[[Check], Check]:
    """Enter a check in the registry."""

    def enter(check: Check) -> Check:
        assert rule_id not in RULES, rule_id
        RULES[rule_id] = Rule(
            rule_id, title, severity, area, source, remedy, may_be_excepted, check, last, frozenset(reasons),
            frozenset(signers), afterwards,
        )  # fmt: skip
        return check

    return enter


def refusal(rule_id: str, title: str, source: str, by: str) -> None:
    """Enter a rule that `by`, the dotted name of a function, decides before anything is recorded."""
    assert rule_id not in REFUSALS, rule_id
    REFUSALS[rule_id] = Refusal(rule_id, title, source, by)


def evaluate(case: Case) -> list[Finding]:
    """All findings of all rules, the gravest first; what several forms of one envelope say alike is said once.

    Asked about an envelope, the custody of a sample that lies elsewhere is left out, and SE-13 says that it does. What two samples share,
    a pump or a point, is said wherever the other one lies.
    """
    findings = _ask(case, [each for each in RULES.values() if not each.last])
    blocked: dict[str, list[str]] = {}
    for found in findings:
        if found.severity == "block":
            blocked.setdefault(found.about, []).append(found.rule)
    findings += _ask(replace(case, blocked=blocked), [each for each in RULES.values() if each.last])
    once = {
        (found.rule, found.about, found.sentence): found
        for found in reversed(findings)
        if not (found.area == "custody" and case.lies_elsewhere(found.about))
    }
    return sorted(once.values(), key=lambda found: (ORDER.index(found.severity), found.rule, found.about))


def _ask(case: Case, rules: Iterable[Rule]) -> list[Finding]:
    return [_finding(case, each, hit) for each in rules for hit in each.check(case)]


def _finding(case: Case, each: Rule, hit: Hit) -> Finding:
    severity = hit.severity or each.severity
    is_past = not hit.is_proposed and case.is_past(hit.about)
    if severity == "block" and is_past:
        severity = "flag"
    excepted = ""
    may_be_excepted = each.may_be_excepted and severity in ("block", "flag")
    if may_be_excepted:
        excepted = next((_in_words(case, said) for said in exceptions(case, each, hit)), "")
        severity = "warn" if excepted else severity
    if excepted:
        remedy = remedies.EXCEPTED
    else:
        remedy = hit.remedy or (each.afterwards if is_past else "") or each.remedy
        remedy += remedies.by_exception(each.id, each.reasons, each.signers) if may_be_excepted else ""
    return Finding(
        each.id,
        severity,
        each.area,
        hit.about,
        hit.sentence + limits.whose(case, hit.about, hit.by),
        remedies.named(case, remedy, hit.about, hit.names),
        hit.entries,
        excepted,
        hit.is_proposed,
    )


def exceptions(case: Case, each: Rule, hit: Hit) -> Iterator[Said]:
    """Exceptions that cover a hit: rule and thing by name, reason and role that will do, signed by somebody not excused (SI-11)."""
    doers = excused_by(case, hit)
    for form in case.forms.values():
        for said in form.exceptions:
            body = said.of(Excepted)
            named = body.rule == each.id and body.about == hit.about
            reason_will_do = not each.reasons or body.reason in each.reasons
            role_will_do = not each.signers or case.role(said.entry.org, said.entry.kid) in each.signers
            allowed = named and reason_will_do and role_will_do and said.entry.kid not in doers
            if allowed and not overrides_own(case, said, hit):
                yield said


def overrides_own(case: Case, said: Said, hit: Hit) -> bool:
    """Whether somebody excepts what rests on a statement of their own (SI-11; by the quality role, SI-12)."""
    knowing = (
        form for form in case.forms.values() if hit.about in (form.number, *form.samples, *form.envelopes)
    )
    signed = case.hands(entry.kid for form in knowing for entry in form.ordered if entry.n in hit.entries)
    return said.entry.kid in signed


def _in_words(case: Case, said: Said) -> str:
    who, reason = case.person(said.entry.org, said.entry.kid), said.of(Excepted).reason.replace("_", " ")
    return f"excepted by {who}: {reason} (entry {said.entry.n})"


def excused_by(case: Case, hit: Hit) -> set[str]:
    """Keys whose own doing the hit is, on every form that knows what it is about; and whoever closes or hands over what is asked about."""
    forms = case.forms.values()
    knowing = [form for form in forms if hit.about in (form.number, *form.samples, *form.envelopes)] or forms
    asking = {each.kid for each in (case.sealing, case.shipping) if each}
    return case.hands(asking | {kid for form in knowing for kid in excused(form, hit)})


def excused(form: Form, hit: Hit) -> set[str]:
    """Keys whose own doing the hit is: the named one, else whoever collected the sample or opened the form; and who sealed and shipped it."""
    if hit.excuses:
        return {hit.excuses}
    sample = form.samples.get(hit.about)
    doers: list[Said] = sample.claims if sample else [form.opened]
    collectors = (
        {s.entry.kid for each in form.samples.values() for s in each.claims}
        if hit.about == form.number
        else set()
    )
    return {said.entry.kid for said in (*doers, *_packers(form, hit.about))} | collectors


def _packers(form: Form, about: str) -> Iterator[Said]:
    """Who sealed and handed over an envelope: the one named, the one a sample lies in, every one of a form."""
    for envelope in form.envelopes.values():
        sealings = [
            sealing
            for sealing in envelope.sealings
            if about in (form.number, envelope.number, *sealing.body.samples)
        ]
        yield from (sealing.said for sealing in sealings)
        if sealings and envelope.shipped:
            yield envelope.shipped
