"""Every act, by name and by the kind of chain it belongs to; and what a statement is once it is in the log.

Only `parse` and `draft` decide whether an act is well formed. It reports all faults at once, and keeps silent about members it does
not know: the signed bytes are kept whole, so nothing is lost when a newer program said more.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime
from typing import Any, Final, Generic, Literal, TypeVar

from bailee.domain import numbers
from bailee.domain.acts import form as form_acts
from bailee.domain.acts import lot as lot_acts
from bailee.domain.acts import organization as organization_acts
from bailee.domain.acts import privacy as privacy_acts
from bailee.domain.facts import Facts
from bailee.domain.moments import Moment
from bailee.errors import BadFacts, BadStatement, BaileeError
from bailee.frozen import field, frozen

B = TypeVar("B", bound=Facts)
ChainKind = Literal["form", "lot", "org"]

ACTS: Final[dict[ChainKind, dict[str, type[Facts]]]] = {
    "form": {
        "opened": form_acts.Opened,
        "collected": form_acts.Collected,
        "held": form_acts.Held,
        "relinquished": form_acts.Relinquished,
        "received": form_acts.Received,
        "sealed": form_acts.Sealed,
        "unsealed": form_acts.Unsealed,
        "shipped": form_acts.Shipped,
        "accepted": form_acts.Decision,
        "on_hold": form_acts.Decision,
        "rejected": form_acts.Decision,
        "voided": form_acts.Voided,
        "corrected": form_acts.Corrected,
        "excepted": form_acts.Excepted,
        "affirmed": form_acts.Affirmed,
        "witnessed": form_acts.Witnessed,
        "erased": privacy_acts.Erased,
        "retention_held": privacy_acts.RetentionHeld,
        "retention_released": privacy_acts.RetentionReleased,
        "copied": form_acts.Copied,
        "disposed": form_acts.Disposed,
        "forwarded": form_acts.Forwarded,
    },
    "lot": {
        "lot_erased": privacy_acts.Erased,
        "lot_received": lot_acts.LotReceived,
        "issued": lot_acts.Issued,
        "recalled": lot_acts.Recalled,
        "released": lot_acts.Released,
        "counted": lot_acts.Counted,
        "expiry_corrected": lot_acts.ExpiryCorrected,
    },
    "org": {
        "person_erased": privacy_acts.Erased,
        "founded": organization_acts.Founded,
        "enrolled": organization_acts.Enrolled,
        "revoked": organization_acts.Revoked,
        "rotated": organization_acts.Rotated,
        "recovered": organization_acts.Recovered,
        "endorsed": organization_acts.Endorsed,
        "policy_set": organization_acts.PolicySet,
        "calendar_set": organization_acts.CalendarSet,
        "equipment_set": organization_acts.EquipmentSet,
        "trained": organization_acts.Trained,
        "licensing_set": organization_acts.LicensingSet,
    },
}

_ORGANIZATION: Final = re.compile(r"[a-z0-9](?:[a-z0-9-]{0,30}[a-z0-9])?")

OPENING: Final[dict[ChainKind, str]] = {"form": "opened", "lot": "lot_received", "org": "founded"}
"""The act that must come first on a chain of each kind, and only first."""


@frozen
class Recorded:
    """A statement as it stands in the log: who said what, where in the chain, when said and when recorded.

    `at` is the signer's own clock; `rec` the ledger's, UTC. `leaf` and `digest` are base64url. `body` is `data` with its
    meaning; `seen` is the size and root of the newest checkpoint the device had verified; `private` counts the signed
    private fields, `disclosed` holds those still readable.
    """

    chain: str
    n: int
    leaf: str
    rec: datetime
    digest: str
    kid: str
    org: str
    act: str
    at: Moment
    seq: int
    prev: str | None
    after: str | None
    data: Mapping[str, Any]
    body: Facts
    refs: tuple[str, ...] = ()
    seen: tuple[int, str] | None = None
    private: int = 0
    disclosed: Mapping[str, str] = field(default_factory=dict)


@frozen
class Draft(Generic[B]):
    """An act that somebody is about to sign: its facts as far as they are known, who would sign them, and in whose name.

    `data` is what `body` was read from, kept to be signed as it stands; nothing is in it where a draft only supposes something.
    """

    act: str
    body: B
    org: str
    kid: str
    data: Mapping[str, Any] = field(default_factory=dict)

    def known(self, name: str) -> Any:
        """A member that a draft may lack; None while it does."""
        assert name in self.body.later
        return getattr(self.body, name, None)


def split_chain(chain: str) -> tuple[ChainKind, str]:
    """`form/F7K3…` → ("form", "F7K3…"). Raises `BadStatement` when the name or its check character is wrong."""
    kind, _, number = chain.partition("/")
    try:
        if kind == "form":
            numbers.require(number, "form")
            return "form", number
        if kind == "lot":
            numbers.require(number, "lot")
            return "lot", number
    except BaileeError as error:
        raise BadStatement(error.sentence, errors=[{"at": "/sub", "says": error.sentence}]) from error
    if kind == "org" and _ORGANIZATION.fullmatch(number):
        return "org", number
    said = f"{chain!r} names no form/…, lot/… or org/…"
    raise BadStatement(said, errors=[{"at": "/sub", "says": said}])


def parse(chain: str, act: str, data: Mapping[str, Any]) -> Facts:
    """The meaning of `data`. Raises `BadStatement` with every fault in `facts["errors"]` as {"at", "says"}."""
    return _meaning(split_chain(chain)[0], act, data, is_draft=False)


def draft(kind: ChainKind, act: str, data: Mapping[str, Any], org: str, kid: str) -> Draft[Any]:
    """An act about to be signed by a key, on a chain of this kind. Raises as `parse` does, and lets open what a draft may lack."""
    return Draft(act, _meaning(kind, act, data, is_draft=True), org, kid, data)


def _meaning(kind: ChainKind, act: str, data: Mapping[str, Any], *, is_draft: bool) -> Facts:
    facts = ACTS[kind].get(act)
    if facts is None:
        known = ", ".join(ACTS[kind])
        said = f"{act!r} is not something that happens to a {kind}; these are: {known}"
        raise BadStatement(said, errors=[{"at": "/act", "says": said}])
    try:
        return facts.draft(data) if is_draft else facts.read(data)
    except BadFacts as error:
        faults = [{"at": f"/data{fault['at']}", "says": fault["says"]} for fault in error.facts["errors"]]
        listed = "; ".join(f"{fault['at'].removeprefix('/data/')}: {fault['says']}" for fault in faults)
        raise BadStatement(
            f"This {act} statement cannot be {'judged' if is_draft else 'recorded'}: {listed}.",
            errors=faults,
            act=act,
        ) from error
