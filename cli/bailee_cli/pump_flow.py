"""The inspector's arithmetic: what one run of the pump amounts to. Needs no service and signs nothing."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import click

from bailee.domain import flow
from bailee.errors import Malformed
from bailee_cli import show, thresholds
from bailee_cli.options import Run, json_option
from bailee_cli.session import Session


@click.command("flow")
@click.option("--before", help="Flow read before the run, L/min.")
@click.option("--after", help="Flow read after the run, L/min.")
@click.option(
    "--run", "run_s", type=Run(), default="5:00", show_default=True, help="How long the pump really ran."
)
@click.option("--nominal", help="Flow the cassette is made for, L/min.  [default: 15]")
@click.option("--fraction", multiple=True, help="Part of the trace read, like 0.25 or 25 %; may be repeated.")
@click.option("--blank", is_flag=True, help="A field blank: no air was drawn.")
@click.option("--offline", is_flag=True, help="Use the firm's thresholds as last seen, without a network.")
@json_option
@click.pass_obj
def flow_command(
    session: Session, before: str | None, after: str | None, run_s: int, nominal: str | None, fraction: tuple[str, ...],
    blank: bool, offline: bool,
) -> None:  # fmt: skip
    """Volume, mean flow, drift and detection limit of one run, and what the rules would say. Nothing is recorded.

    Ends with 1 when a rule would stop the sample.
    """
    from bailee.rules.checks import flow as rules

    if blank == (before is not None or after is not None):
        raise Malformed(
            "Give the flow read --before and --after the run, or say --blank for a field blank.",
            code="no-flow",
        )
    run = flow.read(before, after, 0 if blank else run_s, nominal)
    told = rules.told(run, [flow.read_fraction(each) for each in fraction] or flow.FRACTIONS)
    limits = thresholds.known(session, offline=offline)
    found = [asdict(each) for each in rules.findings(run, limits.policy)]
    if session.json:
        show.print_json(asdict(told) | {"findings": found, "thresholds": limits.whose})
    else:
        _say(asdict(told), run.run_s)
        show.findings(found)
        click.echo(show.plain(f"Thresholds: {limits.whose}."))
    if any(each["severity"] == "block" for each in found):
        raise click.exceptions.Exit(1)


def _say(told: dict[str, Any], run_s: int) -> None:
    for note in told["notes"]:
        click.echo(note)
    if told["volume_l"] is None:
        return
    drift = f", drift {told['drift_pct']} %" if told["drift_pct"] is not None else ""
    click.echo(f"Mean flow {told['mean_l_min']} L/min ({told['mean_cfm']} cfm){drift}.")
    click.echo(f"Volume {told['volume_l']} L ({told['volume_ft3']} cu ft) in {run_s} s.")
    rows = [
        (each["fraction"], each["reported"] or "none", each["fs_m3"] or "none") for each in told["limits"]
    ]
    show.table(
        "Detection limit: what one counted structure stands for",
        ["part of the trace read", "fs/m\N{SUPERSCRIPT THREE}", "to two decimals"],
        rows,
    )
