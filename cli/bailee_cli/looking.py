"""Looking: a sample, a form, an envelope, a lot, and what the rules find."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import click

from bailee.domain import numbers
from bailee.errors import Malformed
from bailee_cli import reading, replaying, show
from bailee_cli.options import Number, json_option, moment
from bailee_cli.session import Session


@click.command("show")
@click.argument("number", type=Number(), required=False)
@json_option
@click.pass_obj
def show_command(session: Session, number: str | None) -> None:
    """Show what NUMBER is: a sample, form, envelope or lot. Without one, your organisation's newest forms."""
    kind = numbers.kind_of(number) if number else None
    path = f"/{_PATHS[kind]}/{number}" if kind else "/forms"
    if kind == "seal":
        raise Malformed("A seal is shown with its envelope: give the envelope's number.", code="seal")
    told = reading.form(session, number) if kind == "form" and number else session.service.get(path)
    if session.json:
        show.print_json(told)
        return
    {"sample": _sample, "form": _form, "envelope": _envelope, "lot": lot, None: _forms}[kind](told)


@click.command("check")
@click.argument("number", type=Number())
@click.option("--as-of", help='As it was then: "2026-11-25 14:00", with what was recorded by then.')
@click.option("--zone", help="Time zone of --as-of, like America/New_York.  [default: this device's]")
@click.option(
    "--as-sealed",
    is_flag=True,
    help="As it was when the envelope was sealed; compares with what was acknowledged.",
)
@json_option
@click.pass_obj
def check_command(
    session: Session, number: str, as_of: str | None, zone: str | None, as_sealed: bool
) -> None:
    """Show what the rules find on a form or envelope, and the four verdicts: now, or as it was at a moment.

    Ends with 1 when something stops the samples or is flagged, with 0 otherwise; warnings and notes do not count. With --as-sealed it
    ends with 1 when the check asked again differs from what the sealer acknowledged.
    """
    kind = numbers.kind_of(number)
    if kind not in ("form", "envelope"):
        raise Malformed("Give the number of a form or an envelope.", code="wrong-kind")
    if as_sealed:
        if kind != "envelope" or as_of:
            raise Malformed(
                "Give the number of an envelope with --as-sealed, and no moment.", code="wrong-kind"
            )
        replaying.sealing(session, number)
        return
    at = moment(session, as_of, zone).text() if as_of else None
    told = session.service.get(f"/{_PATHS[kind]}/{number}", as_of=at)
    if session.json:
        found = {name: told[name] for name in ("at", "findings", "verdicts")}
        show.print_json({"number": number, **found})
    else:
        if at:
            click.echo(f"As of {show.when(at)}:")
        show.findings(told["findings"])
        show.verdicts(told["verdicts"])
    if any(f["severity"] in ("block", "flag", "refuse") for f in told["findings"]):
        raise click.exceptions.Exit(1)


@click.command("pages")
@click.pass_obj
def pages_command(session: Session) -> None:
    """Print a link that enters the pages in a browser. It works for five minutes and speaks in your name: do not pass it on."""
    from bailee.signing import access

    token = access.issue(
        session.key, session.profile.org, session.profile.origin, int(session.now.timestamp())
    )
    # After the hash sign a browser keeps it to itself: it appears in no log of any server on the way.
    click.echo(f"{session.profile.service.rstrip('/')}/enter#{token}")


_PATHS: Final[dict[Any, str]] = {
    "sample": "samples",
    "form": "forms",
    "envelope": "envelopes",
    "lot": "lots",
    "seal": "",
}


def lot(told: Mapping[str, Any]) -> None:
    """One lot as a table."""
    rows = [
        ("maker's lot", told["maker_lot"]),
        ("cassette", f"{told['cassette']}, {told['nominal_flow']} L/min, {told['run_s']} s"),
        ("expires", told["expires"] or "no date on the box"),
        ("received", told["count"]),
        ("issued", len(told["issued"])),
        ("recalled", "yes: do not use" if told["recalled"] else "no"),
    ]
    show.table(f"Lot {show.name(told['lot'])}", ["", ""], rows)


def samples(told: Sequence[Mapping[str, Any]]) -> None:
    """The samples of a form as a table."""
    columns = [
        "sample",
        "kind",
        "where",
        "started",
        "volume L",
        "outdoor control",
        "apart min",
        "state",
        "held by",
    ]
    rows = [
        (
            show.name(s["sample"]), s["kind"], " ".join(filter(None, (show.words(s["room"]), s["point"], s["place"]))),
            show.when(s["started"]), s["volume_l"], show.name(s["outdoor"]) if s["outdoor"] else None, s["minutes_apart"],
            f"void: {show.words(s['void'])}" if s["void"] else show.words(s["status"]), s["holder"],
        )
        for s in told
    ]  # fmt: skip
    show.table("Samples", columns, rows)


def _forms(told: Mapping[str, Any]) -> None:
    rows = [
        (show.name(f["form"]), f["visit"], f["firm"], f["lab"], f["samples"], show.words(f["status"]))
        for f in told["forms"]
    ]
    show.table("Forms", ["form", "visit", "firm", "laboratory", "samples", "state"], rows)


def _form(told: Mapping[str, Any]) -> None:
    click.echo(
        f"Form {show.name(told['form'])}: visit {told['visit']} ({told['zone']}), {told['firm']} for {told['lab']}"
    )
    for name, value in told["private"].items():
        click.echo(show.plain(f"  {name}: {value}"))
    samples(told["samples"])
    _qualified(told["samples"])
    for envelope in told["envelopes"]:
        click.echo(f"Envelope {show.name(envelope)}")
    show.findings(told["findings"])
    show.verdicts(told["verdicts"])


def _sample(told: Mapping[str, Any]) -> None:
    state = told["state"]
    if told["lot"]:
        lot(told["lot"])
    if state is None:
        click.echo(
            f"{show.name(told['sample'])} was issued and is not collected yet, as far as the ledger knows."
        )
        return
    click.echo(f"Sample {show.name(told['sample'])} on form {show.name(told['form'])}")
    samples([state])
    rows = [
        (
            link["holder"],
            link["organisation"],
            show.when(link["since"]),
            show.when(link["until"]),
            _kept(link),
            link["gap_min"],
        )
        for link in state["links"]
    ]
    show.table("Custody", ["held by", "organisation", "from", "until", "kept", "gap min"], rows)
    if state["parent"] or state["child"]:
        was = state["parent"] and f"was {show.name(state['parent'])} before it was sent on"
        now = state["child"] and f"was sent on as {show.name(state['child'])}"
        click.echo(f"The same glass {' and '.join(filter(None, (was, now)))}.")
    _answers(state["decisions"])
    _qualified([state])
    show.findings(told["findings"])


def _answers(told: Sequence[Mapping[str, Any]]) -> None:
    """What the laboratory answered: who was called, when, and what they said."""
    rows = [
        (
            show.words(d["decision"]), show.when(d["at"]), d["by"], ", ".join(map(show.words, d["reasons"])),
            show.when(d["called"]), d["whom"], d["answer"], "yes" if d["qualified"] else "", show.words(d["resample"]),
        )
        for d in told
    ]  # fmt: skip
    if rows:
        columns = [
            "answer",
            "at",
            "by",
            "reasons",
            "sender called",
            "whom",
            "what they said",
            "qualified",
            "new sample",
        ]
        show.table("The laboratory's answers", columns, rows)


def _qualified(told: Sequence[Mapping[str, Any]]) -> None:
    rows = [(show.name(s["sample"]), s["qualification"]) for s in told if s["qualification"]]
    if rows:
        show.table("Qualified results", ["sample", "to be reported with the result"], rows)


def _kept(link: Mapping[str, Any]) -> str:
    return (
        "; ".join(
            f"{show.words(k['secured'])}, {k['where']}, from {show.when(k['since'])}" for k in link["kept"]
        )
        or "not said"
    )


def _envelope(told: Mapping[str, Any]) -> None:
    shipped, received = told["shipped"] or {}, told["received"] or {}
    rows = [
        ("forms", ", ".join(show.name(f) for f in told["forms"])),
        ("samples", "\n".join(show.name(s) for s in told["samples"])),
        ("seal", show.name(told["seal"]) if told["seal"] else "none"),
        ("sealed", show.when(told["sealed_at"])),
        ("shipped", " ".join(str(shipped[n]) for n in ("carrier", "service", "tracking") if shipped.get(n))),
        ("handed over", show.when(shipped.get("handed_over"))),
        ("expected", show.when(shipped.get("expected_receipt"))),
        ("received", show.when(received.get("at"))),
    ]
    show.table(f"Envelope {show.name(told['envelope'])}", ["", ""], rows)
    show.findings(told["findings"])
    show.verdicts(told["verdicts"])
