"""May this key say it? Asked of the ledger before a statement of administration is signed: a refusal
afterwards costs a number that an auditor will ask about.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from bailee.domain.acts.organization import Founded, Recovered
from bailee.domain.acts.table import name_of
from bailee.errors import Forged, Refused, Unavailable, Unknown
from bailee.signing import key_proof
from bailee_cli.device.session import Session
from bailee_cli.terminal import layout


def require(session: Session, chain: str, act: str, data: Mapping[str, Any], *, offline: bool) -> None:
    """Raise `Refused` ("may-not") when the ledger says that this key may not say this.

    Of what happened to glass nothing is asked: it is recorded whoever says it. Where nobody can be asked that
    is said. A recovery key is enrolled nowhere, and is asked nothing.
    """
    if not chain.startswith(("org/", "lot/")) or act == name_of(Recovered):
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
