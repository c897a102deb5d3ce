"""The registry: every rule by id, and the one function that asks them all.

A rule yields a `Hit` for each fault it sees; the registry adds the rule's own words, turns a block into a
flag when the thing has already left the building, and marks what a second person has excepted. Severities:

    refuse  not recorded at all, because it cannot be true or is not authentic (decided where it is read)
    block   nothing may be sealed, shipped or released until cured or excepted
    flag    a block found after the fact: recorded and shown, never hidden
    warn    allowed, must be acknowledged, is printed
    note    printed
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from itertools import islice
from typing import Final, Literal, TypeVar

from bailee.domain.acts.form import Excepted, Sealed, Shipped
from bailee.domain.custody import Form, Said, Sample
from bailee.frozen import frozen
from bailee.rules import remedies, thresholds, wording
from bailee.rules.case import Case
from bailee.rules.readers import ToldAct
from bailee.rules.remedies import Remedy
from bailee.rules.wording import listed, printed, start, were

K = TypeVar("K", bound=Hashable)
Severity = Literal["refuse", "block", "flag", "warn", "note"]
Area = Literal["records", "custody", "media", "comparison"]
"""Which of the four verdicts a finding speaks to; `media` is media and sampling."""

ORDER: Final[tuple[Severity, ...]] = ("refuse", "block", "flag", "warn", "note")


@frozen
class Alike:
    """What is so of several samples of a form, and how one sentence says it of them all."""

    form: str
    what: Hashable
    says: Callable[[Sequence[Sample]], str]
    sample: Sample


@frozen
class Hit:
    """One fault a rule saw.

    `about` is a sample, form, envelope, lot or key; `excuses` the kid an exception may not come from.

    `by` are the thresholds that were crossed: where the laboratory's is the stricter one, the finding says
    so. `remedy` is what to do where the rule's own does not fit the situation, `names` the numbers it speaks
    of beside `about`. `is_proposed`: it rests on what is about to be done, so a block stays one whatever has
    left the building before.
    """

    about: str
    sentence: str
    severity: Severity | None = None
    entries: tuple[int, ...] = ()
    excuses: str | None = None
    by: tuple[str, ...] = ()
    remedy: Remedy | None = None
    names: tuple[str, ...] = ()
    is_proposed: bool = False
    alike: Alike | None = None

    @classmethod
    def on(
        cls, sample: Sample, sentence: str, severity: Severity | None = None, *, by: tuple[str, ...] = ()
    ) -> Hit:
        """A fault of one sample that rests on what its collector said."""
        return cls(sample.number, sentence, severity, tuple(claim.entry.n for claim in sample.claims), by=by)


def shared(
    form: Form,
    sample: Sample,
    said: str,
    severity: Severity | None = None,
    *,
    by: tuple[str, ...] = (),
    remedy: Remedy | None = None,
) -> Hit:
    """A fault of one sample that may be so of others too: `{these}` in the sentence names it, or them;
    `{samples}` as samples.
    """
    (hit,) = alike([(form, sample, said)], _name_these, severity, by=by)
    return replace(hit, remedy=remedy)


def _name_these(found: Sequence[Sample], said: str) -> str:
    said = said.replace("{was}", were(found)).replace("{has}", "has" if len(found) == 1 else "have")
    these = [sample.number for sample in found]
    return start(said.replace("{these}", printed(these)).replace("{samples}", wording.samples(these)))


def alike(
    found: Iterable[tuple[Form, Sample, K]],
    says: Callable[[Sequence[Sample], K], str],
    severity: Severity | None = None,
    *,
    by: tuple[str, ...] = (),
) -> Iterator[Hit]:
    """Samples of which one thing is so: judged of each, for each has its own exception and its own place, and
    said once where it comes out the same. `found` says beside each sample what is so of it.
    """
    for form, sample, what in found:
        hit = Hit.on(sample, says([sample], what), severity, by=by)
        yield replace(hit, alike=Alike(form.number, what, partial(_says, says, what), sample))


def _says(says: Callable[[Sequence[Sample], K], str], what: K, found: Sequence[Sample]) -> str:
    return says(found, what)


Check = Callable[[Case], Iterator[Hit]]


@frozen
class Rule:
    """One rule of the trade.

    `source` is printed in the rule table; `remedy` says what to do now, `afterwards` once it has left.

    `edition` is that of the rule book since which it asks: never about a form that was opened under an
    earlier one. A `last` rule is asked after all others, with their open blocks in `Case.blocked`. `reasons`
    are those an exception must give, `signers` the roles that may sign it; none listed means any.
    """

    id: str
    title: str
    severity: Severity
    area: Area
    source: str
    remedy: Remedy
    may_be_excepted: bool
    check: Check
    last: bool = False
    reasons: frozenset[str] = frozenset()
    signers: frozenset[str] = frozenset()
    afterwards: Remedy | None = None
    edition: int = 1


@frozen
class Refusal:
    """A rule decided where statements are read and signatures checked; `by` names the function that does."""

    id: str
    title: str
    source: str
    by: str


@frozen
class Finding:
    """What a rule found, in words for a person, with what to do about it: in words (`remedy`), and as acts a
    program can offer.

    `about` several samples of a form is the form, and `samples` are they.
    """

    rule: str
    severity: Severity
    area: Area
    about: str
    sentence: str
    remedy: str
    entries: tuple[int, ...] = ()
    excepted: str = ""
    is_proposed: bool = False
    acts: tuple[ToldAct, ...] = ()
    samples: tuple[str, ...] = ()

    def concerns(self, number: str) -> bool:
        """Whether it is about this, be it alone or among others."""
        return number == self.about or number in self.samples


RULES: Final[dict[str, Rule]] = {}
REFUSALS: Final[dict[str, Refusal]] = {}


def rule(
    rule_id: str,
    title: str,
    severity: Severity,
    area: Area,
    source: str,
    remedy: str | Remedy,
    *,
    may_be_excepted: bool = False,
    last: bool = False,
    reasons: Iterable[str] = (),
    signers: Iterable[str] = (),
    afterwards: str | Remedy = "",
    edition: int = 1,
) -> Callable[[Check], Check]:
    """Enter a check in the registry."""

    def enter(check: Check) -> Check:
        assert rule_id not in RULES, rule_id
        RULES[rule_id] = Rule(
            rule_id, title, severity, area, source, _worded(remedy), may_be_excepted, check, last,
            frozenset(reasons), frozenset(signers), _worded(afterwards) if afterwards else None, edition,
        )  # fmt: skip
        return check

    return enter


def _worded(remedy: str | Remedy) -> Remedy:
    return remedies.advice(remedy) if isinstance(remedy, str) else remedy


def refusal(rule_id: str, title: str, source: str, by: str) -> None:
    """Enter a rule that `by`, the dotted name of a function, decides before anything is recorded."""
    assert rule_id not in REFUSALS, rule_id
    REFUSALS[rule_id] = Refusal(rule_id, title, source, by)


def evaluate(case: Case) -> list[Finding]:
    """All findings of all rules, the gravest first; what several forms of one envelope say alike is said
    once.

    Asked about an envelope, the custody of a sample that lies elsewhere is left out, and SE-13 says that it
    does. What two samples share, a pump or a point, is said wherever the other one lies.
    """
    judged = _ask(case, [each for each in RULES.values() if not each.last])
    blocked: dict[str, list[str]] = {}
    for found in judged:
        if found.finding.severity == "block":
            blocked.setdefault(found.finding.about, []).append(found.finding.rule)
    judged += _ask(replace(case, blocked=blocked), [each for each in RULES.values() if each.last])
    here = [
        found
        for found in judged
        if not (found.finding.area == "custody" and case.lies_elsewhere(found.finding.about))
    ]
    once = {(found.rule, found.about, found.sentence): found for found in reversed(_said_once(case, here))}
    return sorted(once.values(), key=lambda found: (ORDER.index(found.severity), found.rule, found.about))


@frozen
class _Told:
    """A finding, the hit that it tells of, and the exceptions that cover it."""

    finding: Finding
    hit: Hit
    exceptions: tuple[Said, ...] = ()

    @property
    def same(self) -> Hashable:
        """What has to be the same for two of them to be said in one sentence; None where nothing may be."""
        if self.hit.alike is None:
            return None
        allowed = tuple(
            (said.entry.org, said.entry.kid, said.of(Excepted).reason) for said in self.exceptions
        )
        told, alike = self.finding, self.hit.alike
        return told.rule, told.severity, told.remedy, told.is_proposed, allowed, alike.form, alike.what


def _said_once(case: Case, judged: Sequence[_Told]) -> list[Finding]:
    """The findings, those that say the same of several samples of a form as one that names them all."""
    groups: dict[Hashable, list[_Told]] = {}
    for place, found in enumerate(judged):
        groups.setdefault(place if found.same is None else found.same, []).append(found)
    return [group[0].finding if len(group) == 1 else _together(case, group) for group in groups.values()]


def _together(case: Case, group: Sequence[_Told]) -> Finding:
    """One finding about the form. Where its samples differ in a number, the acts leave it to the person."""
    first, shared = group[0].finding, [each.hit.alike for each in group if each.hit.alike]
    form, samples = shared[0].form, [each.sample for each in shared]
    allowing = [said for each in group for said in each.exceptions[:1]]
    return replace(
        first,
        about=form,
        sentence=shared[0].says(samples) + thresholds.whose(case, form, group[0].hit.by),
        entries=tuple(dict.fromkeys(n for each in group for n in each.finding.entries)),
        excepted=_in_words(case, allowing) if allowing else "",
        acts=tuple(map(_common, zip(*(each.finding.acts for each in group), strict=True))),
        samples=tuple(sample.number for sample in samples),
    )


def _common(acts: Sequence[ToldAct]) -> ToldAct:
    """One act for all of these: what differs is for the person to give."""
    first, *others = acts
    return {
        name: value if all(other.get(name) == value for other in others) else None
        for name, value in first.items()
    }


def _ask(case: Case, rules: Iterable[Rule]) -> list[_Told]:
    return [
        _finding(case, each, hit)
        for each in rules
        for hit in _hits(case, each)
        if each.edition <= case.edition(hit.about)
    ]


MOST_HITS: Final = 2_000
"""So many things one rule tells of one case: more than any visit has samples."""


def _hits(case: Case, each: Rule) -> Iterator[Hit]:
    """What a rule sees; of very much the first of it, and that there is more."""
    for count, hit in enumerate(each.check(case)):
        if count == MOST_HITS:
            said = f"{each.id} ({each.title}) was found more than {MOST_HITS:,} times: the rest is left out."
            yield Hit(min(case.forms, default=hit.about), said)
            return
        yield hit


def _finding(case: Case, each: Rule, hit: Hit) -> _Told:
    severity = hit.severity or each.severity
    is_past = not hit.is_proposed and case.is_past(hit.about)
    if severity == "block" and is_past:
        severity = "flag"
    may_be_excepted = each.may_be_excepted and severity in ("block", "flag")
    allowing = tuple(islice(exceptions(case, each, hit), 1)) if may_be_excepted else ()
    if allowing:
        severity, remedy = "warn", remedies.EXCEPTED
    else:
        remedy = hit.remedy or (each.afterwards if is_past else None) or each.remedy
        if may_be_excepted:
            remedy += remedies.by_exception(each.id, each.reasons, each.signers)
    remedy = remedy.at(case.stage(hit.about), case.reader)
    finding = Finding(
        each.id,
        severity,
        each.area,
        hit.about,
        hit.sentence + thresholds.whose(case, hit.about, hit.by),
        remedy.words,
        hit.entries,
        _in_words(case, allowing) if allowing else "",
        hit.is_proposed,
        remedies.filled(case, remedy, hit.about, hit.names, hit.entries),
        _several(case, hit),
    )
    return _Told(finding, hit, allowing)


def _several(case: Case, hit: Hit) -> tuple[str, ...]:
    """The samples that a hit about their form names."""
    form = case.forms.get(hit.about)
    return tuple(name for name in hit.names if name in form.samples) if form else ()


def exceptions(case: Case, each: Rule, hit: Hit) -> Iterator[Said]:
    """Exceptions that cover a hit: rule and thing by name, reason and role that will do, signed by somebody
    not excused (SI-11).
    """
    named = case.once(_excepted).get((each.id, hit.about), {}).values()
    barred = excused_by(case, hit) | resting_on(case, hit) if named else set()
    for said in named:
        reason_will_do = not each.reasons or said.of(Excepted).reason in each.reasons
        role_will_do = not each.signers or case.role(said.entry.org, said.entry.kid) in each.signers
        if reason_will_do and role_will_do and said.entry.kid not in barred:
            yield said


def _excepted(case: Case) -> dict[tuple[str, str], dict[tuple[str, str], Said]]:
    """Exceptions by rule and thing: the first for each reason and key, for another that says the same allows
    no more.
    """
    found: dict[tuple[str, str], dict[tuple[str, str], Said]] = {}
    for form in case.forms.values():
        for said in form.exceptions:
            body = said.of(Excepted)
            named = found.setdefault((body.rule, body.about), {})
            named.setdefault((body.reason, said.entry.kid), said)
    return found


def barred(case: Case, known: Rule, about: str) -> Sequence[tuple[set[str], set[str]]]:
    """For each hit of the rule about this thing: the keys whose own doing it is, and those of whoever said
    what it rests on.
    """
    return _judged(case, known, about)[0]


def is_allowed(case: Case, known: Rule, about: str) -> bool:
    """Whether somebody's exception covers a hit of the rule about this thing."""
    return _judged(case, known, about)[1]


def _judged(case: Case, known: Rule, about: str) -> _Judged:
    judged, found = case.once(_judgments), case.once(_found)
    if known.id not in found:
        found[known.id] = {}
        for hit in _hits(case, known):
            found[known.id].setdefault(hit.about, []).append(hit)
    if (known.id, about) not in judged:
        hits = found[known.id].get(about, ())
        judged[known.id, about] = (
            [(excused_by(case, hit), resting_on(case, hit)) for hit in hits],
            any(True for hit in hits for _ in exceptions(case, known, hit)),
        )
    return judged[known.id, about]


_Judged = tuple[Sequence[tuple[set[str], set[str]]], bool]


def _judgments(_case: Case) -> dict[tuple[str, str], _Judged]:
    return {}


def _found(_case: Case) -> dict[str, dict[str, list[Hit]]]:
    return {}


def resting_on(case: Case, hit: Hit) -> set[str]:
    """Keys of whoever made a statement that the hit rests on: none of them may except it (SI-11; by the
    quality role, SI-12).
    """
    return case.hands(signed(case, hit.entries, _knowing(case, hit.about)))


def signed(case: Case, entries: Iterable[int], forms: Iterable[Form]) -> Iterator[str]:
    """The keys by which these entries of the forms were signed."""
    signers = case.once(_signers)
    return (signers[form.number][n] for form in forms for n in entries if n in signers[form.number])


def _signers(case: Case) -> dict[str, dict[int, str]]:
    return {form.number: {entry.n: entry.kid for entry in form.ordered} for form in case.forms.values()}


def _knowing(case: Case, about: str) -> list[Form]:
    """Forms whose own number it is, or that of a sample or envelope on them."""
    return [
        form
        for form in case.about(about)
        if about == form.number or about in form.samples or about in form.envelopes
    ]


def _in_words(case: Case, allowing: Sequence[Said]) -> str:
    first = allowing[0]
    who, reason = case.person(first.entry.org, first.entry.kid), first.of(Excepted).reason.replace("_", " ")
    entries = [str(said.entry.n) for said in allowing]
    where = f"{'entry' if len(entries) == 1 else 'entries'} {listed(entries)}"
    return f"allowed by exception, signed by {who}: {reason} ({where})"


def excused_by(case: Case, hit: Hit) -> set[str]:
    """Keys whose own doing the hit is, on every form that knows what it is about.

    And whoever closes or hands over what is asked about.
    """
    knowing = _knowing(case, hit.about) or case.forms.values()
    asking = {each.kid for each in (case.draft(Sealed), case.draft(Shipped)) if each}
    return case.hands(asking | {kid for form in knowing for kid in excused(case, form, hit)})


def excused(case: Case, form: Form, hit: Hit) -> set[str]:
    """Keys whose own doing the hit is: the named one, else whoever collected the sample or opened the form.

    And who sealed and shipped it.
    """
    if hit.excuses:
        return {hit.excuses}
    sample = form.samples.get(hit.about)
    doers: list[Said] = sample.claims if sample else [form.opened]
    collectors = case.once(_collectors)[form.number] if hit.about == form.number else set()
    packers = case.once(_packers)[form.number].get(hit.about, set())
    return {said.entry.kid for said in doers} | packers | collectors


def _collectors(case: Case) -> dict[str, set[str]]:
    """By form, the keys that collected its samples."""
    return {
        form.number: {said.entry.kid for each in form.samples.values() for said in each.claims}
        for form in case.forms.values()
    }


def _packers(case: Case) -> dict[str, dict[str, set[str]]]:
    """By form: who sealed and handed over an envelope, the one a sample lies in, every one of the form."""
    found: dict[str, dict[str, set[str]]] = {form.number: {} for form in case.forms.values()}
    for form, envelope in case.envelopes():
        shipped = [envelope.shipped.entry.kid] if envelope.shipped else []
        for sealing in envelope.sealings:
            for about in (form.number, envelope.number, *sealing.body.samples):
                found[form.number].setdefault(about, set()).update([sealing.said.entry.kid, *shipped])
    return found
