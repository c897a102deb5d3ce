"""What an inspector is told once a cassette is signed for, while the pump is still here: its lot, its volume,
what the rules find.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

import click

from bailee.domain import measures, numbers
from bailee.domain.acts.form import Collected
from bailee.domain.acts.table import name_of
from bailee.domain.lots import freshness
from bailee.domain.policy import Policy
from bailee.errors import Unavailable
from bailee.presentation import words
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people.looking import of_samples
from bailee_cli.signing import lookups, submit
from bailee_cli.terminal import show


def say(
    session: Session, form: str, data: Mapping[str, Any], lot: Mapping[str, Any], day: date, *,
    is_recorded: bool, offline: bool,
) -> None:  # fmt: skip
    """All of it, of a cassette collected on that day."""
    _say_lot(session, lot, day, offline=offline)
    _say_volume(data)
    _say_what_rules_find(session, form, str(data["sample"]), online=is_recorded)


def _say_lot(session: Session, lot: Mapping[str, Any], day: date, *, offline: bool) -> None:
    name, expires = f"Lot {show.name(lot['lot'])}", lot.get("expires")
    dated = f"{name}: {words.Heading.EXPIRATION.lower()} {expires}"
    last = date.fromisoformat(expires) if expires else None
    then = freshness(last, day, Policy())
    if then and not then.in_date:  # only then does it matter what grace the firm gives
        then = freshness(last, day, lookups.known(session, offline=offline).policy)
    if lot.get("recalled"):
        click.echo(f"{name} IS RECALLED: do not use the rest of it.")
    elif then and then.in_date:
        click.echo(f"{dated}.")
    elif then and then.may_be_used:
        click.echo(f"{dated} has passed; your firm's limits let it be used until {then.usable_to}.")
    elif then:
        click.echo(f"{dated} HAS PASSED. Collect with another cassette as well, if you can.")


def _say_volume(data: Mapping[str, Any]) -> None:
    flow = _mean(data)
    if data["kind"] == "blank":
        click.echo("Field blank: no air drawn.")
    elif flow is not None:
        click.echo(f"Volume {volume(data)} L ({measures.rounded(flow, 2)} L/min for {data['run_s']} s).")
    else:
        click.echo("Volume unknown: no flow was read.")


def _mean(data: Mapping[str, Any]) -> Decimal | None:
    flows = [Decimal(data[name]) for name in ("flow_before", "flow_after") if name in data]
    return measures.mean_flow(flows[0], flows[-1]) if flows else None


def volume(data: Mapping[str, Any]) -> Decimal | None:
    """Liters drawn, as far as a flow was read."""
    flow = _mean(data)
    return None if flow is None else measures.rounded(measures.volume_liters(flow, Decimal(data["run_s"])), 2)


def _say_what_rules_find(session: Session, form: str, sample: str, *, online: bool) -> None:
    """At once, while the pump is still here: what is wrong with this sample, and whether an outdoor control
    is missing.
    """
    told = _told(session, form) if online else None
    if told is None:
        mine = [k for k in session.outbox.of_chains([f"form/{form}"]) if k.act == name_of(Collected)]
        if not any(submit.data_of(k)["kind"] == "outdoor" for k in mine):
            click.echo("No outdoor control yet from this device.")
        return
    if not any(s["kind"] == "outdoor" and not s["void"] for s in told["samples"]):
        click.echo("No outdoor control yet.")
    _say_of_sample(told, sample)


def say_of_surface(session: Session, form: str, sample: str) -> None:
    """What the rules find of what was taken from a surface: no outdoor control is asked of it."""
    if told := _told(session, form):
        _say_of_sample(told, sample)


def _told(session: Session, form: str) -> Mapping[str, Any] | None:
    try:
        return cache.form(session, form)
    except Unavailable:
        return None


def _say_of_sample(told: Mapping[str, Any], sample: str) -> None:
    of_samples.samples([s for s in told["samples"] if s["sample"] == sample], told["zone"])
    name = numbers.grouped(sample)
    named = [f for f in told["findings"] if f["severity"] in ("warn", "note") and name in f["sentence"]]
    show.findings([f for f in told["findings"] if f["about"] == sample or f in named])
