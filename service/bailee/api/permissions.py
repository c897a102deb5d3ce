"""Questions before a statement of administration is signed: may this key say it, may it found."""

from __future__ import annotations

from typing import Annotated, Any

from flask import Blueprint
from pydantic import BaseModel, Field

from bailee.api.asking import ledger
from bailee.api.layer import Asked, operation
from bailee.operations import permission
from bailee.operations.visibility import Asker

blueprint = Blueprint("permissions", __name__)


class PermissionAsked(Asked):
    """What would be signed: the chain it is about, the act, its public facts."""

    chain: Annotated[str, Field(min_length=1, max_length=64)]
    act: Annotated[str, Field(min_length=1, max_length=64)]
    data: dict[str, Any]


class FoundingAsked(Asked):
    """Who would found what: the short name, the public key, and the proof of an enrollment request."""

    organization: Annotated[str, Field(min_length=1, max_length=32)]
    jwk: dict[str, Annotated[str, Field(max_length=64)]]
    proof: Annotated[str, Field(min_length=1, max_length=2048)]


class PermissionTold(BaseModel):
    """Whether it may be said, and in a sentence why not (empty when it may)."""

    may: bool
    why_not: str


@blueprint.post("/permission")
@operation(
    "May this key sign this?",
    tag="questions",
    body=PermissionAsked,
    answers={200: PermissionTold},
    errors=(422,),
)
def may_say(body: PermissionAsked, asker: Asker) -> PermissionTold:
    """By the role of the asker's key as it is now. Nothing is recorded."""
    why = permission.why_not(ledger(), asker, body.chain, body.act, body.data)
    return PermissionTold(may=not why, why_not=why)


@blueprint.post("/permission/founding")
@operation(
    "May this key found an organization?",
    tag="questions",
    body=FoundingAsked,
    answers={200: PermissionTold},
    errors=(422,),
    public=True,
)
def may_found(body: FoundingAsked) -> PermissionTold:
    """For whoever holds the key alone; to everybody else it is one that was not admitted."""
    why = permission.why_not_found(ledger(), body.organization, body.jwk, body.proof)
    return PermissionTold(may=not why, why_not=why)
