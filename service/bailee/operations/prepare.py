"""Preparing what a clerk is about to sign: the readiness question, and the statements one gesture will make.

The answer is no while anything blocks, and then there is nothing to sign. When it is yes, there is one statement per form in
the envelope, as on paper, each carrying the digests of the policies it was judged by and the warnings that were shown.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any, Final

from sqlalchemy.engine import Connection

from bailee.domain.delivery_window import Plan
from bailee.domain.facts import plain
from bailee.domain.moments import Moment
from bailee.errors import Malformed, Unknown
from bailee.frozen import frozen
from bailee.operations import access, number_lookup
from bailee.operations.snapshots import Books
from bailee.rules import transit
from bailee.rules.case import Case, Sealing, Shipping, Taking, Voiding, airbill
from bailee.rules.clock_bounds import BELIEVABLE
from bailee.rules.registry import Finding, evaluate

_MOST_ACKNOWLEDGED: Final = 60
"""Warnings listed in one statement: 60 of 40 bytes stay far below the size of a statement; the report holds all."""


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
    plan: Plan | None = None
    latest: Moment | None = None

    @property
    def ready(self) -> bool:
        """Ready only if there is something to sign: nothing blocks and everything needed was seen."""
        return bool(self.statements)


def sealing(connection: Connection, books: Books, asker: str, proposal: Sealing, *, now: Moment) -> Readiness:
    """May these samples be sealed into this envelope now? Raises `Malformed` for a time to come."""
    _require_done(now, "at", proposal.at)
    case = sealing_case(connection, books, asker, proposal)
    findings = evaluate(case)
    if _blocked(findings):
        return Readiness(tuple(findings))
    per_form = {
        number: [s for s in proposal.samples if s in form.samples] for number, form in case.forms.items()
    }
    per_form = {number: samples for number, samples in per_form.items() if samples}
    return Readiness(
        tuple(findings),
        tuple(
            Prepared(
                f"form/{number}",
                "sealed",
                _sealed(case, proposal, number, samples, sorted(per_form), findings),
            )
            for number, samples in sorted(per_form.items())
        ),
    )


def shipping(
    connection: Connection, books: Books, asker: str, proposal: Shipping, *, now: Moment
) -> Readiness:
    """May this envelope be handed over like this? Raises `Unknown` for an envelope the asker may not see, `Malformed` for a time to come."""
    _require_done(now, "handed_over", proposal.handed_over)
    numbers = number_lookup.forms_with(connection, books, asker, proposal.envelope)
    if not numbers:
        raise access.nothing("envelope", proposal.envelope)
    case = replace(books.case(connection, numbers, proposal.handed_over, asker), shipping=proposal)
    if proposal.tracking:
        case = books.with_airbill(
            connection, case, proposal.org, airbill(proposal.org, proposal.carrier, proposal.tracking)
        )
    findings = evaluate(case)
    window = transit.window(case, proposal)
    if _blocked(findings):
        return Readiness(tuple(findings), (), window.plan, window.latest)
    statements = tuple(
        Prepared(f"form/{number}", "shipped", _shipped(proposal, window.plan))
        for number, form in sorted(case.forms.items())
        if proposal.envelope in form.envelopes
    )
    return Readiness(tuple(findings), statements, window.plan, window.latest)


def taking(
    connection: Connection,
    books: Books,
    asker: str,
    proposal: Taking,
    conditions: Mapping[str, Sequence[str]],
    *,
    now: Moment,
) -> Readiness:
    """May these samples be taken over from another person? `conditions` by sample. Only what bears on the taking is told.

    Raises `Unknown` for samples the asker may not see, `Malformed` for a time to come.
    """
    _require_done(now, "at", proposal.at)
    numbers = number_lookup.forms_of(connection, books, asker, proposal.samples)
    case = books.case(connection, _seen(numbers, proposal.samples), proposal.at, asker)
    case = replace(case, taking=proposal)
    findings = [found for found in evaluate(case) if found.is_proposed]
    statements = []
    for number, form in sorted(case.forms.items()):
        items = [
            {"sample": each, "condition": list(conditions[each])}
            for each in proposal.samples
            if each in form.samples
        ]
        data = {"items": items, "count": len(items), "at": proposal.at.text()}
        statements.append(Prepared(f"form/{number}", "received", data))
    return Readiness(tuple(findings), () if _blocked(findings) else tuple(statements))


def voiding(
    connection: Connection,
    books: Books,
    asker: str,
    proposal: Voiding,
    reason: str,
    *,
    form: str | None = None,
    now: Moment,
) -> Readiness:
    """May this sample be voided, on `form` or where it was collected? Only what bears on the voiding is told.

    Raises `Unknown` for a form or sample the asker may not see.
    """
    if form:
        access.require(connection, f"form/{form}", asker)
    found = [form] if form else number_lookup.forms_of(connection, books, asker, [proposal.sample])
    case = books.case(connection, _seen(found, [proposal.sample]), now, asker)
    case = replace(case, voiding=proposal)
    findings = [found for found in evaluate(case) if found.is_proposed]
    data = {"sample": proposal.sample, "reason": reason}
    statements = tuple(Prepared(f"form/{number}", "voided", data) for number in sorted(case.forms))
    return Readiness(tuple(findings), () if _blocked(findings) else statements)


def _seen(numbers: Sequence[str], samples: Sequence[str]) -> Sequence[str]:
    if not numbers:
        raise Unknown(
            "None of these samples was collected on a form that your organization may see.",
            samples=list(samples),
        )
    return numbers


def _require_done(now: Moment, field: str, at: Moment) -> None:
    """Nobody signs that a thing was done which is still to come; clocks may differ as much as CU-09 lets them."""
    if at.instant - now.instant > BELIEVABLE:
        raise Malformed(
            f"{field} is {at.text()}, which is still to come: here it is {Moment(now.instant, at.offset_minutes).text()}. Give the time at which "
            "it was done, or set the clock of this device.",
            code="future",
            field=field,
            at=at.text(),
        )


def sealing_case(connection: Connection, books: Books, asker: str, proposal: Sealing) -> Case:
    """The case of an envelope about to be sealed; a sample that the asker may not see was collected nowhere."""
    numbers = {
        *number_lookup.forms_of(connection, books, asker, proposal.samples),
        *number_lookup.forms_with(connection, books, asker, proposal.envelope, own=True),
    }
    case = replace(books.case(connection, numbers, proposal.at, asker), sealing=proposal)
    return books.with_seal(connection, case, proposal.org, proposal.seal)


def _blocked(findings: Sequence[Finding]) -> bool:
    return any(finding.severity in ("block", "refuse") for finding in findings)


def _sealed(
    case: Case,
    proposal: Sealing,
    number: str,
    samples: list[str],
    forms: list[str],
    findings: Sequence[Finding],
) -> dict[str, Any]:
    joint = case.joint(case.forms[number])
    published = {"lab_policy": joint.lab.stated_digest} if joint.lab else {}
    return {
        "envelope": proposal.envelope,
        "seal": proposal.seal,
        "samples": samples,
        "count": len(samples),
        "total": len(proposal.samples),
        "forms": forms,
        "at": proposal.at.text(),
        "across_opening": proposal.across_opening,
        "record_enclosed": proposal.record_enclosed,
        **_said(
            plain_tape=proposal.plain_tape or None,
            record_pages=proposal.record_pages,
            photo=plain(proposal.photo),
        ),
        "policy": joint.firm.digest,
        **published,
        "findings": acknowledged(case, proposal, number, findings),
    }


def acknowledged(
    case: Case, proposal: Sealing, number: str, findings: Sequence[Finding]
) -> list[dict[str, str]]:
    """The warnings that one form's sealing acknowledges: those about the form, the envelope, or a sample of the form."""
    about = {number, proposal.envelope, *case.forms[number].samples}
    shown = [
        {"rule": f.rule, "about": f.about} for f in findings if f.severity == "warn" and f.about in about
    ]
    return shown[:_MOST_ACKNOWLEDGED]


def _shipped(proposal: Shipping, plan: Plan | None) -> dict[str, Any]:
    data: dict[str, Any] = {
        "envelope": proposal.envelope,
        "carrier": proposal.carrier,
        "service": proposal.service,
        "service_days": proposal.service_days,
        "saturday": proposal.saturday,
        "by_hand": proposal.by_hand,
        "tracking": proposal.tracking,
        "handed_over": proposal.handed_over.text(),
        **_said(
            classified=proposal.classified,
            forecast_low_c=_text(proposal.forecast_low_c),
            forecast_high_c=_text(proposal.forecast_high_c),
        ),
    }
    if plan:
        data |= {"expected_delivery": plan.delivered.text(), "expected_receipt": plan.received.text()}
    return data


def _said(**facts: Any) -> dict[str, Any]:
    """Without what was not said."""
    return {name: value for name, value in facts.items() if value is not None}


def _text(value: Decimal | None) -> str | None:
    return f"{value:f}" if value is not None else None
