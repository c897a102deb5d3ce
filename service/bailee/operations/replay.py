"""Asking again what was asked when an envelope was sealed: the same books, the same thresholds, and the
warnings acknowledged then.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy.engine import Connection

from bailee.domain.acts.form import Sealed
from bailee.domain.acts.table import name_of
from bailee.domain.custody import Form
from bailee.domain.joint_policy import Joint
from bailee.domain.moments import Moment
from bailee.domain.statements import Draft, Recorded
from bailee.frozen import frozen
from bailee.operations import number_lookup, prepare, visibility
from bailee.operations.ledger import Ledger
from bailee.operations.snapshots import Past
from bailee.rules.registry import Finding, evaluate

Warned = tuple[str, str]
"""A rule, and what it was about."""


@frozen
class Compared:
    """One form's part of a sealing: the warnings its sealer acknowledged, those found again, and whether the
    policies are the same.

    A policy is None where the statement names none.
    """

    form: str
    acknowledged: tuple[Warned, ...]
    found: tuple[Warned, ...]
    policy_same: bool | None
    lab_policy_same: bool | None

    @property
    def same(self) -> bool:
        """Whether nothing differs."""
        return set(self.acknowledged) == set(self.found) and False not in (
            self.policy_same,
            self.lab_policy_same,
        )


@frozen
class Replayed:
    """The newest sealing of an envelope, asked again: when it was signed and recorded, what is found, what
    had been acknowledged.
    """

    at: Moment
    recorded: datetime
    seal: str
    findings: tuple[Finding, ...]
    forms: tuple[Compared, ...]

    @property
    def same(self) -> bool:
        """Whether the warnings and policies are those of then, on every form."""
        return all(each.same for each in self.forms)


def as_sealed(ledger: Ledger, connection: Connection, asker: str, envelope: str) -> Replayed:
    """Replay the newest sealing of an envelope from what was recorded before it. Raises `Unknown`.

    Of other chains everything counts that was recorded by the millisecond of the sealing.
    """
    parts = _parts(ledger, connection, asker, envelope)
    bodies = [_sealed(entry) for _, entry in parts]
    first, body = parts[0][1], bodies[0]
    whole = Sealed(**vars(body) | {"samples": [sample for each in bodies for sample in each.samples]})
    draft = Draft(name_of(Sealed), whole, first.org, first.kid)
    recorded = min(entry.rec for _, entry in parts)
    books = Past(recorded, {entry.chain: entry.n for _, entry in parts})
    # What the sealer was warned of then is found again by what the sealer may see; told is what the asker
    # may.
    then = prepare.case_of(connection, books, first.org, draft, now=body.at)
    found = evaluate(then)
    shown = then if asker == first.org else prepare.case_of(connection, books, asker, draft, now=body.at)
    compared = tuple(
        _compare(
            form.number,
            each,
            [(said["rule"], said["about"]) for said in prepare.acknowledged(then, draft, form.number, found)],
            then.joint(then.forms[form.number]),
        )
        for (form, _), each in zip(parts, bodies, strict=True)
    )
    findings = found if shown is then else evaluate(shown)
    return Replayed(body.at, recorded, body.seal, tuple(findings), compared)


def _parts(ledger: Ledger, connection: Connection, asker: str, envelope: str) -> list[tuple[Form, Recorded]]:
    """Each form under the newest seal, with its statement as it was recorded, before any correction."""
    numbers = number_lookup.forms_with(connection, ledger.books, asker, envelope)
    forms = [ledger.books.form(connection, number) for number in sorted(numbers)]
    found = [
        (form, next(entry for entry in form.entries if entry.n == sealing.said.entry.n))
        for form in forms
        if envelope in form.envelopes and (sealing := form.envelopes[envelope].sealing)
    ]
    if not found:
        raise visibility.nothing("sealed envelope", envelope)
    newest = max((_sealed(entry) for _, entry in found), key=lambda body: body.at)
    return [(form, entry) for form, entry in found if _sealed(entry).seal == newest.seal]


def _sealed(entry: Recorded) -> Sealed:
    assert isinstance(entry.body, Sealed)
    return entry.body


def _compare(form: str, said: Sealed, found: Sequence[Warned], joint: Joint) -> Compared:
    return Compared(
        form=form,
        acknowledged=tuple((each.rule, each.about) for each in said.findings),
        found=tuple(found),
        policy_same=said.policy == joint.firm.digest if said.policy else None,
        lab_policy_same=(
            said.lab_policy == (joint.lab.digest if joint.lab else None) if said.lab_policy else None
        ),
    )
