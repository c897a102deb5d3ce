"""Whose thresholds count at this keyboard: the firm's, as told by the service or as last seen here, or the
defaults.

Is there such an organization? Asked before a name is signed: a mistyped one is a true statement about nobody.
"""

from __future__ import annotations

import json

from bailee.domain.policy import Policy
from bailee.errors import BaileeError, Forged, Malformed, Unavailable, Unknown
from bailee.frozen import frozen
from bailee_cli.device import profile
from bailee_cli.device.session import Session
from bailee_cli.terminal import layout


def require(session: Session, name: str, *, offline: bool = False) -> None:
    """Raise `Malformed` ("unknown-organization") when the ledger knows none of this name.

    Where it cannot be asked, say so and go on.
    """
    if name == session.profile.org:
        return
    if offline:
        layout.warn(f"Not checked without a network: whether the ledger knows {name!r}.")
        return
    try:
        near: list[str] = session.service.get("/organizations", like=name)["nearest"]
    except (Unavailable, Unknown, Forged) as error:
        layout.warn(f"Not checked: whether the ledger knows {name!r}. {error.sentence}")
        return
    if name not in near:
        meant = f"Known names like it: {', '.join(near)}." if near else "Nothing like it is known."
        raise Malformed(
            f"The ledger knows no organization {name!r}. {meant} Nothing was signed.",
            code="unknown-organization",
            organization=name,
            nearest=near,
        )


_FILE = "thresholds.json"


@frozen
class Thresholds:
    """A policy and, in words, whose it is."""

    policy: Policy
    whose: str


def known(session: Session, *, offline: bool) -> Thresholds:
    """The firm's thresholds, asked with the device's key; the defaults for a device that belongs to no firm.

    Never refuses.
    """
    try:
        org = session.profile.org
    except Unavailable:
        return Thresholds(Policy(), "the defaults, because this device belongs to no organization yet")
    if not offline:
        try:
            told = session.service.get(f"/organizations/{org}")["policy"]
            policy = Policy.from_data(told)
        except (BaileeError, KeyError, TypeError):
            pass  # no network, or no ledger there: what was seen last decides
        else:
            seen = {"policy": told, "day": session.now.date().isoformat()}
            profile.replace_file(session.folder / _FILE, json.dumps(seen).encode())
            return Thresholds(policy, f"those of {org}")
    return _last_seen(session, org)


def _last_seen(session: Session, org: str) -> Thresholds:
    try:
        seen = json.loads((session.folder / _FILE).read_text("utf-8"))
        return Thresholds(Policy.from_data(seen["policy"]), f"those of {org}, as last seen on {seen['day']}")
    except (OSError, ValueError, KeyError, TypeError, BaileeError):
        return Thresholds(Policy(), f"the defaults: those of {org} are not known on this device yet")
