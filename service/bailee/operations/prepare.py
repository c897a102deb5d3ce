"""What somebody is about to sign: judged, completed, and given back as the statements that one gesture will
sign.

    draft → the forms it is about → the case, with the draft in it → the rules → one statement for each form

The answer is no while anything blocks, and then there is nothing to sign. When it is yes, there is one
statement per form, as on paper: what was said, as it was said, and what the ledger reckons from it. A seal
carries the digests of the policies it was judged by and the warnings that were shown.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from sqlalchemy.engine import Connection

from bailee.domain.acts.form import Collected, Decision, Opened, Received, Sealed, Shipped, Voided
from bailee.domain.acts.mentions import airbill
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.acts.table import done_at
from bailee.domain.custody import Form
from bailee.domain.moments import Moment
from bailee.domain.opening_hours.delivery_window import DeliveryPlan
from bailee.domain.statements import Draft
from bailee.errors import Malformed, Unknown
from bailee.frozen import frozen
from bailee.operations import number_lookup, visibility
from bailee.operations.snapshots import Books, Supposed
from bailee.rules import transit
from bailee.rules.case import Case
from bailee.rules.clock_bounds import BELIEVABLE
from bailee.rules.registry import Finding, evaluate

_MOST_ACKNOWLEDGED: Final = 60
"""Warnings listed in one statement: 60 of 40 bytes stay far below the size of a statement.

The report holds all.
"""

_OF_LOTS: Final = "ML-11"
"""Found of the whole visit, and told of the cassette that is the first of its lot there."""


@frozen
class Prepared:
    """One statement to sign: chain, act, data."""

    sub: str
    act: str
    data: dict[str, Any]


@frozen
class Readiness:
    """Whether to go on, everything that was found, and what to sign; `plan` and `latest` for a hand-over."""

    findings: tuple[Finding, ...]
    statements: tuple[Prepared, ...] = ()
    plan: DeliveryPlan | None = None
    latest: Moment | None = None

    @property
    def ready(self) -> bool:
        """Ready only if there is something to sign: nothing blocks and everything needed was seen."""
        return bool(self.statements)


def readiness(
    connection: Connection, books: Books, draft: Draft[Any], *, now: Moment, form: str | None = None
) -> Readiness:
    """Whether this may be signed.

    A sample is voided on `form`, or where it was collected. Of a taking, a voiding and a
    decision only what bears on it is told. One that is collected on `form` is judged as if it were recorded.

    Raises `Unknown` for what the asker may not see, `Malformed` for a time to come and for an envelope opened
    at a dock.
    """
    _require_done(draft, now)
    if isinstance(draft.body, Collected | SurfaceCollected) and form:
        return _of_cassette(connection, books, draft, now, f"form/{form}")
    case = case_of(connection, books, draft.org, draft, now=now, form=form)
    findings = evaluate(case)
    if isinstance(draft.body, Received | Voided | Decision):
        findings = [found for found in findings if found.is_proposed]
    leaving = case.draft(Shipped)
    window = transit.window(case, leaving) if leaving else transit.Window(None, None, ())
    told = Readiness(tuple(findings), (), window.plan, window.latest)
    if any(found.severity in ("block", "refuse") for found in findings):
        return told
    said = {name: value for name, value in draft.data.items() if name not in draft.row.computed}
    statements = [
        Prepared(f"form/{number}", draft.act, said | more)
        for number in sorted(case.forms)
        if (more := _completed(case, draft, number, findings, window.plan)) is not None
    ]
    return replace(told, statements=tuple(statements))


def _of_cassette(
    connection: Connection,
    books: Books,
    draft: Draft[Collected] | Draft[SurfaceCollected],
    now: Moment,
    chain: str,
) -> Readiness:
    """What the rules would find about a sample if its collection were on record."""
    visibility.require(connection, chain, draft.org)
    then = Supposed(books, connection, chain, draft, now)
    case = then.case(connection, [chain.removeprefix("form/")], now, draft.org)
    found = evaluate(case.read_by(draft.org, case.role(draft.org, draft.kid)))
    of_visit = (_OF_LOTS,) if _brings_a_lot(case.forms[chain.removeprefix("form/")], draft.body) else ()
    is_for_others = case.forms[chain.removeprefix("form/")].opened.of(Opened).parties.firm != draft.org
    told = [
        replace(each, entries=tuple(n for n in each.entries if n != then.entry.n))
        for each in found
        if each.concerns(draft.body.sample)
        or each.rule in of_visit
        or (is_for_others and then.entry.n in each.entries)
    ]
    stops = any(each.severity in ("block", "refuse") for each in told)
    return Readiness(tuple(told), () if stops else (Prepared(chain, draft.act, dict(draft.data)),))


def _brings_a_lot(form: Form, body: Collected | SurfaceCollected) -> bool:
    """Whether no other cassette of the visit is of its lot."""
    return isinstance(body, Collected) and all(
        other.taken.lot != body.lot for other in form.air if other.number != body.sample
    )


def case_of(
    connection: Connection,
    books: Books,
    asker: str,
    draft: Draft[Any],
    *,
    now: Moment,
    form: str | None = None,
) -> Case:
    """Everything that bears on a draft and that the asker may see, at the time at which it is done.

    Raises `Unknown` and `Malformed`.
    """
    at = done_at(draft.body) or now
    case = books.case(connection, _forms(connection, books, asker, draft, form), at, asker)
    case = replace(case, drafts=(draft,)).read_by(draft.org, case.role(draft.org, draft.kid))
    if closing := case.draft(Sealed):
        return books.with_seal(connection, case, draft.org, closing.known("seal"))
    leaving = case.draft(Shipped)
    if leaving and leaving.body.tracking:
        name = airbill(draft.org, leaving.body.carrier, leaving.body.tracking)
        return books.with_airbill(connection, case, draft.org, name)
    return case


def _forms(
    connection: Connection, books: Books, asker: str, draft: Draft[Any], form: str | None
) -> Collection[str]:
    """The forms that a draft is about.

    A sample in an envelope that the asker may not see was collected nowhere.
    """
    match draft.body:
        case Sealed() as body:
            return {
                *number_lookup.forms_of(connection, books, asker, body.samples),
                *number_lookup.forms_with(connection, books, asker, body.envelope, own=True),
            }
        case Shipped() as body:
            numbers = number_lookup.forms_with(connection, books, asker, body.envelope)
            if not numbers:
                raise visibility.nothing("envelope", body.envelope)
            return numbers
        case Received(dock=None) as body:
            return _seen(connection, books, asker, [item.sample for item in body.items])
        case Decision() as body:
            return _seen(connection, books, asker, body.samples)
        case Voided() as body if form:
            visibility.require(connection, f"form/{form}", asker)
            return [form]
        case Voided() as body:
            return _seen(connection, books, asker, [body.sample])
    said = (
        "The laboratory records what it finds"
        if isinstance(draft.body, Received)
        else f"There is no question before {draft.act}"
    )
    raise Malformed(f"{said}: sign it without asking.", code="not-asked", act=draft.act)


def _seen(connection: Connection, books: Books, asker: str, samples: Sequence[str]) -> Sequence[str]:
    found = number_lookup.forms_of(connection, books, asker, samples)
    if not found:
        raise Unknown(
            "None of these samples was collected on a form that your organization may see.",
            samples=list(samples),
        )
    return found


def _require_done(draft: Draft[Any], now: Moment) -> None:
    """Nobody signs that a thing was done which is still to come.

    Clocks may differ as much as CU-09 lets them.
    """
    at, field = done_at(draft.body), draft.row.done
    if at and at.instant - now.instant > BELIEVABLE:
        raise Malformed(
            f"{field} is {at.clock}, which is in the future: here it is"
            f" {Moment(now.instant, at.offset_minutes).clock}. Enter the time at which it was done, or set"
            " the clock of this device.",
            code="future",
            field=field,
            at=at.text(),
        )


def _completed(
    case: Case, draft: Draft[Any], number: str, findings: Sequence[Finding], plan: DeliveryPlan | None
) -> dict[str, Any] | None:
    """What one form's statement says beside what was said, or instead of it.

    None for a form of which it says nothing.
    """
    form = case.forms[number]
    match draft.body:
        case Sealed() as body:
            parts = {each: [s for s in body.samples if s in case.forms[each].samples] for each in case.forms}
            mine, joint = parts[number], case.joint(form)
            return (
                None
                if not mine
                else {
                    "samples": mine,
                    "count": len(mine),
                    "total": len(body.samples),
                    "forms": sorted(each for each in parts if parts[each]),
                    "policy": joint.firm.digest,
                    **({"lab_policy": joint.lab.digest} if joint.lab else {}),
                    "findings": acknowledged(case, draft, number, findings),
                }
            )
        case Shipped() as body if body.envelope not in form.envelopes:
            return None
        case Shipped() as body if body.by_hand or plan:
            delivery = draft.data.get("expected_delivery") if body.by_hand else plan and plan.delivered.text()
            receipt = plan.received.text() if plan else None
            expected = {"expected_delivery": delivery, "expected_receipt": receipt}
            return {name: value for name, value in expected.items() if value}
        case Received():
            items = [item for item in draft.data["items"] if item["sample"] in form.samples]
            return {"items": items, "count": len(items)}
        case Decision() as body:
            return _decided(draft.data, [sample for sample in body.samples if sample in form.samples])
    return {}


def _decided(data: Mapping[str, Any], mine: Sequence[str]) -> dict[str, Any] | None:
    """The part of one form; laboratory numbers of its samples alone."""
    if not mine:
        return None
    numbered = {sample: own for sample, own in data.get("lab_numbers", {}).items() if sample in mine}
    return {"samples": list(mine), **({"lab_numbers": numbered} if "lab_numbers" in data else {})}


def acknowledged(
    case: Case, draft: Draft[Sealed], number: str, findings: Sequence[Finding]
) -> list[dict[str, str]]:
    """The warnings that one form's sealing acknowledges: those about the form, the envelope, or a sample of
    the form.
    """
    about = {number, draft.body.envelope, *case.forms[number].samples}
    shown = [
        {"rule": f.rule, "about": f.about} for f in findings if f.severity == "warn" and f.about in about
    ]
    return shown[:_MOST_ACKNOWLEDGED]
