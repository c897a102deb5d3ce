"""What lies on the clerk's desk: the envelope begun and the cassettes scanned for it, kept until it is sealed.

A refusal, Ctrl-C or a flat battery costs no scan. It lies in the outbox file, which belongs to this key alone.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import click

from bailee.domain.numbers import grouped
from bailee_cli.session import Session

_NAME: Final = "desk"


def begun(session: Session) -> tuple[str, list[str]] | None:
    """The envelope begun on this device and what was scanned for it, if it is not sealed yet."""
    kept = session.outbox.recall(_NAME)
    return (kept["envelope"], kept["samples"]) if kept else None


def keep(session: Session, envelope: str, samples: Iterable[str]) -> None:
    """Remember the envelope and its cassettes."""
    session.outbox.remember(_NAME, {"envelope": envelope, "samples": list(samples)})


def clear(session: Session) -> None:
    """The envelope is sealed."""
    session.outbox.remember(_NAME, None)


def say(envelope: str, samples: list[str]) -> None:
    """What was scanned before, so that the person sees what they go on with."""
    click.echo(
        f"Begun before, and not sealed: envelope {grouped(envelope)}, {len(samples)} scanned. Scan what is still missing, or begin anew "
        "with --anew.",
        err=True,
    )
    for each in samples:
        click.echo(f"   {grouped(each)}", err=True)
