"""What lies on the desk: envelopes begun, and the cassettes scanned for each, kept with every scan until it is signed.

A refusal, Ctrl-C or a flat battery costs no scan. It lies in the outbox file, which belongs to this key and its owner alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Literal

import click

from bailee.domain.numbers import grouped
from bailee.frozen import frozen
from bailee_cli.saying import data_of
from bailee_cli.session import Session

Verb = Literal["seal", "receive"]


@frozen
class Begun:
    """An envelope begun: when it was last scanned into (text of a moment), and what."""

    envelope: str
    samples: tuple[str, ...]
    since: str


def begun(session: Session, verb: Verb) -> list[Begun]:
    """Envelopes begun on this device and not signed yet, the newest first.

    One that was signed all the same (the device died between signing and clearing the desk) is no longer among them.
    """
    kept = session.outbox.recall_all(f"desk/{verb}/")
    found = [Begun(envelope, tuple(each["samples"]), each["since"]) for envelope, each in kept.items()]
    done = _signed(session, {each.envelope: each.since for each in found}) if verb == "seal" else set()
    for envelope in done:
        clear(session, verb, envelope)
    return sorted(
        (each for each in found if each.envelope not in done), key=lambda each: each.since, reverse=True
    )


def keep(session: Session, verb: Verb, envelope: str, samples: Iterable[str]) -> None:
    """Remember the envelope and its cassettes; with none there is nothing to remember."""
    listed = list(samples)
    if listed:
        session.outbox.remember(
            f"desk/{verb}/{envelope}", {"samples": listed, "since": session.now.isoformat()}
        )
    else:
        clear(session, verb, envelope)


def clear(session: Session, verb: Verb, envelope: str) -> None:
    """It is signed, or was given up."""
    session.outbox.forget(f"desk/{verb}/{envelope}")


def say(session: Session, each: Begun) -> None:
    """What was scanned before, so that the person sees what they go on with."""
    from datetime import datetime

    since = datetime.fromisoformat(each.since).astimezone(session.now.astimezone().tzinfo)
    at = f"{since:%H:%M}" if since.date() == session.now.astimezone().date() else f"{since:%Y-%m-%d %H:%M}"
    click.echo(
        f"Begun at {at}, and not signed: envelope {grouped(each.envelope)}, {len(each.samples)} scanned.",
        err=True,
    )
    for number in each.samples:
        click.echo(f"   {grouped(number)}", err=True)


@contextmanager
def surviving(session: Session, verb: Verb, envelope: str) -> Iterator[None]:
    """Whatever ends the verb early, Ctrl-C included, the person hears what is kept and how to go on."""
    try:
        yield
    except BaseException:
        kept = next((each for each in begun(session, verb) if each.envelope == envelope), None)
        if kept:
            click.echo(
                f"\nKept: envelope {grouped(envelope)}, {len(kept.samples)} scanned. "
                f"`bailee {verb} --envelope {envelope}` goes on with it."
                if verb == "seal"
                else f"\nKept: {len(kept.samples)} scanned. `bailee {verb} {envelope}` goes on with it.",
                err=True,
            )
        raise


def _signed(session: Session, since: dict[str, str]) -> set[str]:
    """Those of these envelopes that this device sealed after they were last scanned into."""
    from datetime import UTC, datetime

    from bailee.signing import signed_statement

    done = set()
    for kept in session.outbox.newest(200) if since else []:
        if kept.act == "sealed" and kept.state in ("waiting", "registered"):
            envelope = str(data_of(kept)["envelope"])
            at = datetime.fromtimestamp(signed_statement.read(kept.text).claims.iat, UTC).isoformat()
            if envelope in since and at >= since[envelope]:
                done.add(envelope)
    return done
