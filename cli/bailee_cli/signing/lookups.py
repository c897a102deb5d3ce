"""Whose thresholds count at this keyboard: the firm's, as told by the service or as last seen here, or the
defaults.

Is there such an organization? Asked before a name is signed: a mistyped one is a true statement about nobody.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any, Final

from bailee.asking import opening_slips
from bailee.asking.slip import Slip
from bailee.domain.policy import Policy
from bailee.errors import BaileeError, Forged, Malformed, Refused, Unavailable, Unknown
from bailee.frozen import frozen
from bailee_cli.device import client, profile
from bailee_cli.device.session import Session
from bailee_cli.terminal import layout, prompts, show


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
        if error.code == client.KEY_ENDED:
            raise Refused(f"{error.sentence} Nothing was signed.", code=error.code) from error
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


def unknown_laboratory(session: Session, lab: str, *, offline: bool) -> Slip | None:
    """The slip that the ledger knows no such laboratory. Where nobody can be asked it is refused as ever."""
    try:
        require(session, lab, offline=offline)
    except Malformed as error:
        if not (session.anyway or prompts.may_ask(session)):
            raise
        return opening_slips.unknown_laboratory(lab, error.facts["nearest"])
    return None


_KEY_ID: Final = re.compile(r"[A-Za-z0-9_-]{43}", re.ASCII)
_BEGINNING: Final = 4
"""So much of a key ID tells two keys of one organization apart, or it is said that it does not."""


def enrolled(session: Session) -> list[Mapping[str, Any]]:
    """Every key of one's own organization: `kid`, `role`, `person`, `owner`, `revoked`, `until`."""
    return list(session.service.get(f"/organizations/{session.profile.org}")["keys"] or [])


def carriers(session: Session) -> list[str]:
    """The carriers of which one's own organization has signed a calendar."""
    known = session.service.get(f"/organizations/{session.profile.org}")["calendars"]
    return sorted(name.removeprefix("carrier/") for name in known if name.startswith("carrier/"))


def key_id(session: Session, text: str, *, offline: bool = False) -> str:
    """The key ID that is meant: as typed in full, or, among keys that stand, by its owner's name or its
    beginning.

    Raises `Malformed` when none or several may be meant.
    """
    said = text.strip()
    if _KEY_ID.fullmatch(said):
        return said
    if offline:
        raise Malformed(
            f"{text!r} is no key ID, and without a network no name can be looked up.", code="unknown-person"
        )
    standing = [each for each in enrolled(session) if not each["revoked"]]
    found = [each for each in standing if (each["person"] or "").casefold() == said.casefold()]
    found = found or [
        each
        for each in standing
        if (len(said) >= _BEGINNING and each["kid"].startswith(said))
        or said.casefold() in (each["person"] or "").casefold().split()
    ]
    if len(found) != 1:
        told = "; ".join(f"{each['person'] or 'no name'}, {each['role']}, {each['kid']}" for each in found)
        why = f"may be {told}: type the key ID" if found else "is not enrolled here: see `bailee people`"
        raise Malformed(
            f"{text!r} {why}. Nothing was signed.",
            code="unknown-person",
            candidates=[each["kid"] for each in found],
        )
    return str(found[0]["kid"])


def require_standing(session: Session, kid: str) -> Mapping[str, Any] | None:
    """The key as it is enrolled here; None where nobody can be asked.

    Raise `Refused` ("key-ended") when it has ended, `Malformed` when it is not enrolled here.

    The first end of a key counts for ever: who mistyped it would take a second one for its correction.
    """
    try:
        found = next((each for each in enrolled(session) if each["kid"] == kid), None)
    except (Unavailable, Unknown, Forged):
        return None
    if found is None:
        raise Malformed(
            f"No key of {session.profile.org} has the ID {kid}: see `bailee people`. Nothing was signed.",
            code="unknown-person",
        )
    if found["revoked"]:
        raise Refused(
            f"The key {kid[:8]}… has ended already ({show.when(found['until'])}), and its first end is what"
            " counts. Nothing was signed.",
            code="key-ended",
        )
    return found


_LICENSING = "licensing"


def licensing(session: Session, *, offline: bool) -> list[str]:
    """Where a license is needed by the firm's list, as told by the service or as last seen here."""
    if not offline:
        try:
            told = session.service.get(f"/organizations/{session.profile.org}")
        except (Unavailable, Unknown, Forged):
            pass  # no network, or no ledger there: what was seen last decides
        else:
            session.outbox.remember(_LICENSING, told.get("licensing") or [])
    return list(session.outbox.recall(_LICENSING) or [])


_FILE = "thresholds.json"


@frozen
class Thresholds:
    """A policy and, in words, whose it is; `firm` is the name of that organization, if known."""

    policy: Policy
    whose: str
    firm: str = ""


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
            told = session.service.get(f"/organizations/{org}")
            policy, name = Policy.from_data(told["policy"]), str(told["name"])
        except (BaileeError, KeyError, TypeError):
            pass  # no network, or no ledger there: what was seen last decides
        else:
            seen = {"policy": told["policy"], "name": name, "day": session.now.date().isoformat()}
            profile.replace_file(session.folder / _FILE, json.dumps(seen).encode())
            return Thresholds(policy, f"those of {org}", name)
    return _last_seen(session, org)


def _last_seen(session: Session, org: str) -> Thresholds:
    try:
        seen = json.loads((session.folder / _FILE).read_text("utf-8"))
        whose = f"those of {org}, as last seen on {seen['day']}"
        return Thresholds(Policy.from_data(seen["policy"]), whose, seen.get("name", ""))
    except (OSError, ValueError, KeyError, TypeError, BaileeError):
        return Thresholds(Policy(), f"the defaults: those of {org} are not known on this device yet")
