"""Whether an envelope on the bench of the dock can have arrived, by what is on record."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from bailee.asking import hand_over_slips
from bailee.asking.slip import Slip
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.terminal import prompts


def settle(session: Session, told: Mapping[str, Any]) -> None:
    """At a terminal, ask back an envelope that cannot have arrived yet, before anything else is asked."""
    if prompts.may_ask(session):
        prompts.settle(session, lambda: _slips(session, told))


def differences(session: Session, told: Mapping[str, Any]) -> list[str]:
    """The same in sentences, for whoever was not asked, and on the last screen."""
    return [each.sentence for each in _slips(session, told)]


def _slips(session: Session, told: Mapping[str, Any]) -> list[Slip]:
    """One that was opened, taken in, or handed to this laboratory from person to person, is here."""
    if told["received"] or told["taken_in"] or not told["sealed_at"]:
        return []
    found = list(hand_over_slips.not_shipped(told["envelope"], told["shipped"], session.now))
    if not found:
        return []
    inside = [s for number in told["forms"] for s in cache.form(session, number)["samples"]]
    last = [s["links"][-1] for s in inside if s["sample"] in told["samples"] and s["links"]]
    return [] if any(each["organization"] == session.profile.org for each in last) else found
