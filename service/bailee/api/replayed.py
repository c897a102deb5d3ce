"""Shapes of what is asked again as of a moment, and of the comparison with what was said then."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, WithJsonSchema

from bailee.api.answers import FindingOut
from bailee.api.layer import Query
from bailee.domain.moments import Moment
from bailee.errors import BaileeError
from bailee.operations.replay import Compared, Replayed


def _moment(value: Any) -> Moment:
    try:
        return Moment.parse(str(value))
    except BaileeError as error:
        raise ValueError(error.sentence) from error


class AsOfQuery(Query):
    """A moment, RFC 3339 with its offset: everything recorded later is left out, and the rules judge as they
    did then.
    """

    as_of: (
        Annotated[
            Moment,
            BeforeValidator(_moment),
            WithJsonSchema({"type": "string", "format": "date-time"}),
        ]
        | None
    ) = None


class WarnedOut(BaseModel):
    """A rule, and what it was about."""

    rule: str
    about: str


class ComparedOut(BaseModel):
    """One form's part of a sealing: what was acknowledged then, and what is found again.

    A policy is null where none was named.
    """

    form: str
    same: bool
    acknowledged: list[WarnedOut]
    found_again: list[WarnedOut]
    policy_same: bool | None
    lab_policy_same: bool | None

    @classmethod
    def of(cls, each: Compared) -> ComparedOut:
        """The comparison as told."""
        said, found = (
            [WarnedOut(rule=rule, about=about) for rule, about in warned]
            for warned in (each.acknowledged, each.found)
        )
        return cls(
            form=each.form,
            same=each.same,
            acknowledged=said,
            found_again=found,
            policy_same=each.policy_same,
            lab_policy_same=each.lab_policy_same,
        )


class SealingOut(BaseModel):
    """The newest sealing of an envelope, asked again from what was recorded before it."""

    envelope: str
    seal: str
    sealed_at: str
    recorded: str
    same: bool
    findings: list[FindingOut]
    forms: list[ComparedOut]

    @classmethod
    def of(cls, envelope: str, found: Replayed) -> SealingOut:
        """The replay as told."""
        return cls(
            envelope=envelope,
            seal=found.seal,
            sealed_at=found.at.text(),
            recorded=Moment(found.recorded, 0).text(),
            same=found.same,
            findings=[FindingOut.of(each) for each in found.findings],
            forms=[ComparedOut.of(each) for each in found.forms],
        )
