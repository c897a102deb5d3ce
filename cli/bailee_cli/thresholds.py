"""Whose thresholds count at this keyboard: the firm's, as told by the service or as last seen here, or the defaults."""

from __future__ import annotations

import json

from bailee.domain.policy import Policy
from bailee.errors import BaileeError, Unavailable
from bailee.frozen import frozen
from bailee_cli import profile
from bailee_cli.session import Session

_FILE = "thresholds.json"


@frozen
class Thresholds:
    """A policy and, in words, whose it is."""

    policy: Policy
    whose: str


def known(session: Session, *, offline: bool) -> Thresholds:
    """The firm's thresholds, asked with the device's key; the defaults for a device that belongs to no firm. Never refuses."""
    try:
        org = session.profile.org
    except Unavailable:
        return Thresholds(Policy(), "the defaults, because this device belongs to no organisation yet")
    if not offline:
        try:
            told = session.service.get(f"/organisations/{org}")["policy"]
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
