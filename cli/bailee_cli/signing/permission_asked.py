"""May this key say it? Asked of the ledger before anything is signed that a ledger refuses to a wrong role:
a refusal afterwards costs a number that an auditor will ask about.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import Any, Final

from bailee.domain.acts.organization import Founded, Recovered
from bailee.domain.acts.table import ROWS, name_of
from bailee.errors import BaileeError, Forged, Refused, Unavailable, Unknown
from bailee.signing import key_proof
from bailee_cli.device import client
from bailee_cli.device.session import Session
from bailee_cli.signing.acts import Act
from bailee_cli.terminal import layout


def require_all(session: Session, acts: Sequence[Act], *, offline: bool) -> None:
    """Raise `Refused` ("may-not") when the ledger says that this key may not say one of these.

    On forms the role alone decides, so that of many with one act it is asked once; what is erased may be held
    by somebody.
    """
    asked = set()
    for each in acts:
        by_role = each.chain.startswith("form/") and not ROWS[each.act].erases
        if by_role and each.act in asked:
            continue
        asked.add(each.act)
        require(session, each.chain, each.act, each.data, offline=offline)
    if any(each.act not in _BY_ANOTHER_KEY for each in acts):
        _require_no_end(session, offline=offline)


def _require_no_end(session: Session, *, offline: bool) -> None:
    """Raise `Refused` ("revoked-key") when this device knows that its key has ended: by an answer in this
    run, or by one before that the ledger, where it can be asked, does not take back.
    """
    said = "" if offline else session.service.ended
    if not said and (said := session.ended) and not offline:
        with suppress(BaileeError):
            if session.service.get("/devices/me")["end"] is None:
                said = session.ended = ""
    if said:
        raise Refused(f"{said} Nothing was signed.", code=client.KEY_ENDED)


_BY_ANOTHER_KEY: Final = (name_of(Founded), name_of(Recovered))
"""Acts of a key that is enrolled nowhere."""


def require(session: Session, chain: str, act: str, data: Mapping[str, Any], *, offline: bool) -> None:
    """Raise `Refused` ("may-not") when the ledger says that this key may not say this.

    Of what happened to glass nothing is asked: it is recorded whoever says it. Where nobody can be asked that
    is said, but not on a form: there it waits to be sent like all the rest. A recovery key is enrolled
    nowhere, and is asked nothing.
    """
    if ROWS[act].physical or act == name_of(Recovered):
        return
    if chain.startswith("form/"):
        _require_on_form(session, chain, act, data, offline=offline)
        return
    if offline:
        layout.warn("Not asked without a network: whether this key may sign this.")
        return
    try:
        told = _asked(session, chain, act, data)
    except (Unavailable, Unknown) as error:
        layout.warn(f"Not asked: whether this key may sign this. {error.sentence}")
        return
    except Forged as error:
        raise Refused(f"{error.sentence} Nothing was signed.", code=error.code, **error.facts) from error
    _heed(told, act)


def _require_on_form(
    session: Session, chain: str, act: str, data: Mapping[str, Any], *, offline: bool
) -> None:
    """Whose key is not enrolled yet signs all the same: it is sent again once it is."""
    if offline:
        return
    try:
        told = _asked(session, chain, act, data)
    except (Unavailable, Unknown, Forged):
        return
    _heed(told, act)


def _heed(told: Mapping[str, Any], act: str) -> None:
    if not told["may"]:
        raise Refused(f"{told['why_not']} Nothing was signed.", code="may-not", act=act)


def _asked(session: Session, chain: str, act: str, data: Mapping[str, Any]) -> Mapping[str, Any]:
    if act != name_of(Founded):
        told: Mapping[str, Any] = session.service.post(
            "/permission", {"chain": chain, "act": act, "data": dict(data)}
        )
        return told
    profile = session.profile
    proof = key_proof.issue(session.key, profile.org, profile.origin, int(session.now.timestamp()))
    asked = {"organization": profile.org, "jwk": session.key.jwk, "proof": proof}
    founding: Mapping[str, Any] = session.service.post("/permission/founding", asked)
    return founding
