"""The laboratory sends a sample on to a second one: the same glass, a new number, a new seal, a second receipt."""

from __future__ import annotations

import secrets
from typing import get_args

import click

from bailee.domain import numbers
from bailee.domain.acts import form as form_acts
from bailee.errors import Malformed
from bailee_cli import acting, known, reading, show
from bailee_cli.acting import Act
from bailee_cli.options import Number, act_options, moment, time_options
from bailee_cli.session import Session


@click.command("forward")
@click.argument("samples", nargs=-1, required=True, type=Number("sample"))
@click.option("--to", "to", required=True, help="Short name of the second laboratory.")
@click.option("--purpose", required=True, type=click.Choice(get_args(form_acts.Purpose)))
@click.option("--item", required=True, type=click.Choice(["cassette", "slide"]), help="What goes on.")
@click.option(
    "--condition",
    multiple=True,
    required=True,
    type=click.Choice(get_args(form_acts.SentOn)),
    help="As it is now.",
)
@click.option(
    "--child",
    "children",
    multiple=True,
    type=Number("sample"),
    help="New numbers from labels, in the order of SAMPLES.  [default: made here]",
)
@click.option("--form", "form", type=Number("form"), help="All are on this form (needed with --offline).")
@click.option("--note", help="Free text; kept out of the log.")
@time_options
@act_options
@click.pass_obj
def forward_command(
    session: Session, samples: tuple[str, ...], to: str, purpose: str, item: str, condition: tuple[str, ...],
    children: tuple[str, ...], form: str | None, note: str | None, at: str | None, zone: str | None, offline: bool,
) -> None:  # fmt: skip
    """Send SAMPLES on to a second laboratory. A trace is not split: each goes on whole, under a new number that points to the old.

    Then label them, seal them with `bailee seal`, hand them over with `bailee ship`; the second laboratory takes them over with
    `bailee receive`. It sees custody and codes of the form, and no names, addresses or notes.
    """
    if children and len(children) != len(samples):
        raise Malformed("Give one --child for every sample, or none.", code="children")
    fresh = children or tuple(numbers.issue("sample", secrets.choice) for _ in samples)
    new = dict(zip(samples, fresh, strict=True))
    known.require(session, to, offline=offline)
    groups = reading.by_form(session, samples, form)
    reading.see(session, groups, offline=offline)
    acts = [
        Act(
            f"form/{number}", "forwarded",
            {
                "items": [
                    {"sample": s, "child": new[s], "item": item, "condition": list(condition)} for s in group
                ],
                "count": len(group), "to": to, "purpose": purpose, "at": moment(session, at, zone).text(),
            },
            {"note": note},
        )
        for number, group in groups.items()
    ]  # fmt: skip
    kept = acting.perform(session, acts, offline=offline)
    if not session.json:
        show.table("Sent on", ["sample", "new number"], [(s, new[s]) for s in samples])
    acting.report(session, kept)
