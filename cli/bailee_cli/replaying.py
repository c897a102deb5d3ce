"""Asking again what was asked when an envelope was sealed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import click

from bailee_cli import clocks, show
from bailee_cli.session import Session


def sealing(session: Session, envelope: str) -> None:
    """Judge an envelope from what was recorded before it was sealed; end with 1 when it differs from what was acknowledged."""
    told = session.service.get(f"/envelopes/{envelope}/sealing")
    if session.json:
        show.print_json(told)
    else:
        sealed = show.when(told["sealed_at"], clocks.of_envelope(session, envelope))
        show.say(f"Envelope {show.name(envelope)}, sealed {sealed} with {show.name(told['seal'])}:")
        show.findings(told["findings"])
        for part in told["forms"]:
            _form(part)
    if not told["same"]:
        raise click.exceptions.Exit(1)


def _form(part: Mapping[str, Any]) -> None:
    said, found = _pairs(part["acknowledged"]), _pairs(part["found_again"])
    acknowledged = f"{show.counted(len(said), 'warning was', 'warnings were')} acknowledged"
    again = f"{show.counted(len(found), 'is', 'are')} found again"
    show.say(f"Form {show.name(part['form'])}: {acknowledged}, {again}.")
    for rule, about in [each for each in said if each not in found]:
        show.say(f"  acknowledged then, not found now: {rule} {show.name(about)}")
    for rule, about in [each for each in found if each not in said]:
        show.say(f"  found now, not acknowledged then: {rule} {show.name(about)}")
    for whose, same in (
        ("the firm's thresholds", part["policy_same"]),
        ("the laboratory's limits", part["lab_policy_same"]),
    ):
        if same is not None:
            show.say(f"  {whose}: {'those of then' if same else 'not those that the seal names'}")


def _pairs(warned: Sequence[Mapping[str, str]]) -> list[tuple[str, str]]:
    return [(each["rule"], each["about"]) for each in warned]
