"""Exceptions: which rules may be excepted, by whom, and why one that was signed, or is about to be, allows
nothing.

A second person allows what a first one did: never whoever did it (SI-11), nor whoever sealed or handed over
the envelope it lies in, nor whoever said what the finding rests on (SI-12). Two persons are common practice,
no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from bailee.domain import numbers
from bailee.domain.acts.form import Excepted, Opened, Sealed
from bailee.domain.acts.table import ROWS, name_of
from bailee.domain.custody import Sample
from bailee.domain.statements import Draft
from bailee.errors import Forged
from bailee.frozen import frozen
from bailee.rules.case import Case
from bailee.rules.registry import RULES, Hit, Rule, excused_by, signed
from bailee.rules.wording import listed


@frozen
class Allowing:
    """An exception, signed or about to be: of a rule, about a thing, by a key of an organization.

    No reason: none was chosen yet.
    """

    rule: Rule
    about: str
    org: str
    kid: str
    reason: str | None = None


def exceptable() -> list[str]:
    """The rules that may be excepted."""
    return sorted(each.id for each in RULES.values() if each.may_be_excepted)


def require(rule_id: str) -> Rule:
    """The rule, if it may be excepted.

    Raises `Forged` (`not-excepted`) with those that may: an exception of another allows nothing.
    """
    known = RULES.get(rule_id)
    if known and known.may_be_excepted:
        return known
    said = (
        f"{rule_id} ({known.title}) can only be fixed, not allowed by exception"
        if known
        else f"There is no rule {rule_id}"
    )
    may = exceptable()
    raise Forged(
        f"{said}. Exceptions are possible for: {', '.join(may)}.", code="not-excepted", rule=rule_id, may=may
    )


def hits(case: Case, rule: Rule, about: str = "") -> list[Hit]:
    """What a rule finds in a case, about whatever; of `about` also what sealing it now would let it find.

    Whether an envelope waited too long shows before it is sealed only when somebody asks whether it may be
    (SH-02), and then the exception is wanted. What rests on a carrier who is yet to be chosen is not found
    here.
    """
    found = list(rule.check(case))
    supposed = None if any(hit.about == about for hit in found) else _sealing_now(case, about)
    if supposed:
        found += [hit for hit in rule.check(replace(case, drafts=(supposed,))) if hit.about == about]
    return found


def _sealing_now(case: Case, envelope: str) -> Draft[Sealed] | None:
    """This envelope closed at once by nobody, with what it holds, or all that lies in none.

    None when there is nothing, or it has left.
    """
    seen = [form.envelopes[envelope] for form in case.forms.values() if envelope in form.envelopes]
    inside = [
        sample.number
        for form in case.forms.values()
        for sample in form.live
        if sample.envelope == (envelope if seen else None)
    ]
    if numbers.kind_of(envelope) != "envelope" or not inside or any(each.shipped for each in seen):
        return None
    firm = next(iter(case.forms.values())).opened.of(Opened).parties.firm
    body = Sealed.so_far(
        envelope=envelope, samples=inside, at=case.at, across_opening=True, record_enclosed=True
    )
    return Draft(name_of(Sealed), body, firm, "")


def why_not(case: Case, said: Allowing, found: Iterable[Hit]) -> str:
    """Why this exception allows none of what was `found`, in words that say what would; empty when it allows
    something.

    Nothing found yet about its thing: judged by what the exception itself says.
    """
    rule = said.rule
    if without_case := no_standing(said, case.role(said.org, said.kid)):
        return without_case
    about = [hit for hit in found if hit.about == said.about] or [Hit(said.about, "")]
    if all(said.kid in _barred(case, hit) for hit in about):
        return (
            f"{case.person(said.org, said.kid)} may not allow {rule.id} here: the person who did it, signed"
            " what it rests on, or sealed or shipped the envelope is never the second person"
        )
    return ""


def no_standing(said: Allowing, role: str) -> str:
    """Why this exception allows nothing whatever is found, by its signer's role and its reason alone.

    Empty when that is to be seen.
    """
    rule = said.rule
    if role not in _signers(rule):
        return (
            f"only the {_roles(rule)} role may allow {rule.id}, and this key has the"
            f" {role.replace('_', ' ') or 'unknown'} role"
        )
    if rule.reasons and said.reason is not None and said.reason not in rule.reasons:
        return f"{rule.id} is allowed only because of: {listed(sorted(_words(rule.reasons)))}"
    return ""


def second_person(rule: Rule) -> str:
    """Who may sign an exception of a rule, in words, before anybody is looked at."""
    return f"a second person of the {_roles(rule)} role who neither seals nor ships the envelope"


def who(case: Case, said: Allowing, found: Iterable[Hit]) -> str:
    """Who may sign an exception, in words: roles, and the persons who may not."""
    about = [hit for hit in found if hit.about == said.about] or [Hit(said.about, "")]
    barred = set.intersection(*(_barred(case, hit) for hit in about))
    names = sorted(
        {
            org.person(kid)
            for org in case.organizations.values()
            for kid in org.keys
            if kid in barred and org.keys[kid].role in _signers(said.rule)
        }
    )
    but = f" (not {' or '.join(names)})" if names else ""
    return f"{second_person(said.rule)}{but}"


def holds(case: Case, said: Allowing) -> bool:
    """Whether its signer holds a sample it is about: sealing or handing it over ends the exception."""
    mine = case.hands([said.kid])
    return any(
        sample.holder.kid in mine
        and (said.about in (form.number, sample.number) or _is_in(sample, said.about))
        for form in case.forms.values()
        for sample in form.live
        if sample.holder
    )


def _is_in(sample: Sample, envelope: str) -> bool:
    """Whether it lies in this envelope, or may yet be put there."""
    return numbers.kind_of(envelope) == "envelope" and sample.envelope in (None, envelope)


def _barred(case: Case, hit: Hit) -> set[str]:
    """Keys of everybody who may not allow this."""
    return excused_by(case, hit) | case.hands(signed(case, hit.entries, case.about(hit.about)))


def _signers(rule: Rule) -> frozenset[str]:
    return rule.signers or frozenset(ROWS[name_of(Excepted)].may)


def _roles(rule: Rule) -> str:
    names = sorted(_words(_signers(rule)))
    return " or ".join(filter(None, [", ".join(names[:-1]), names[-1]]))


def _words(codes: Iterable[str]) -> Iterable[str]:
    return (code.replace("_", " ") for code in codes)
