"""The outbox, seen and sent."""

from __future__ import annotations

import json
from typing import Any

import click

from bailee.domain.moments import Moment
from bailee.signing import disclosures, signed_statement
from bailee_cli import acting, show
from bailee_cli.options import Whole, json_option
from bailee_cli.outbox import Kept
from bailee_cli.session import Session


@click.command("send")
@click.option("--again", is_flag=True, help="Also send once more what was refused before.")
@json_option
@click.pass_obj
def send_command(session: Session, again: bool) -> None:
    """Send what is signed and still waiting, in the order it was signed. Sending twice does no harm."""
    states = ("waiting", "refused") if again else ("waiting",)
    settled = acting.send(session, *states)
    left = session.outbox.unsettled("waiting")
    if not settled and not left and not session.json:
        click.echo("Nothing is waiting.")
        return
    if left and not session.json:
        click.echo(f"{len(left)} still waiting.", err=True)
    acting.report(session, settled)
    if left:
        raise click.exceptions.Exit(3)


@click.command("outbox")
@click.option("--show", "shown", type=Whole(1), metavar="NO.", help="Everything this statement says.")
@click.option(
    "--set-aside",
    type=Whole(1),
    metavar="NO.",
    help="Show this refused statement, and try it no more. It is kept.",
)
@click.option(
    "--take-up", type=Whole(1), metavar="NO.", help="Let `send --again` try one that was set aside."
)
@click.option("--all", "everything", is_flag=True, help="Everything this device has ever signed.")
@click.option("--yes", is_flag=True, help="Set it aside without asking.")
@json_option
@click.pass_obj
def outbox_command(
    session: Session, everything: bool, shown: int | None, set_aside: int | None, take_up: int | None, yes: bool
) -> None:  # fmt: skip
    """Show the newest statements of this device and what became of each."""
    if shown is not None:
        _show(session, session.outbox.one(shown))
    elif set_aside is not None:
        _set_aside(session, set_aside, yes=yes)
    elif take_up is not None:
        session.outbox.take_up(take_up)
        _say(
            session,
            take_up,
            f"Statement {take_up} is taken up again: `bailee send --again` tries it once more.",
        )
    elif session.json:
        show.print_json([acting.as_json(each) for each in _newest(session, everything)])
    else:
        columns = ["no.", "what", "about", "state", "entry", "statement"]
        rows = [_row(each) for each in _newest(session, everything)]
        show.table("Signed on this device, newest first", columns, rows)


def _newest(session: Session, everything: bool) -> list[Kept]:
    return session.outbox.newest(1_000_000 if everything else 20)


def _set_aside(session: Session, seq: int, *, yes: bool) -> None:
    """Give a refused statement up, once the person has seen what it says and what is left of it."""
    kept = session.outbox.one(seq)
    if kept.state == "refused" and not yes:
        _show(session, kept, err=True)
        later = len(session.outbox.newest(1_000_000)) - seq
        after = (
            f"{later} later statements of this device name it" if later > 1 else "the next statement names it"
        )
        click.echo(
            f"Its number is not used again, for {after}: in the ledger number {seq} stays missing, every form this device speaks on "
            "later says so (CU-10), and whoever checks will ask what it was. It is kept here.",
            err=True,
        )
        click.confirm("Try it no more?", abort=True, err=True)
    session.outbox.set_aside(seq)
    _say(
        session,
        seq,
        f"Set aside: {show.words(kept.act)}, {acting.spoken(kept.chain)} (statement {seq}). It is sent no more and kept: `bailee outbox "
        f"--show {seq}` shows it to whoever asks for the missing number, `bailee outbox --take-up {seq}` takes it up again.",
    )


def _say(session: Session, seq: int, sentence: str) -> None:
    if session.json:
        show.print_json(acting.as_json(session.outbox.one(seq)))
    else:
        click.echo(sentence)


def _show(session: Session, kept: Kept, *, err: bool = False) -> None:
    """What a statement says, its private fields and its signed text included."""
    claims = signed_statement.read(kept.text).claims
    private = disclosures.reveal(kept.disclosures, claims.private, claims.data)
    if session.json and not err:
        show.print_json(
            acting.as_json(kept) | {"data": dict(claims.data), "private": private, "text": kept.text}
        )
        return
    problem = (kept.answer or {}).get("problem") or {}
    lines = [
        f"Statement {kept.seq}: {show.words(kept.act)}, {acting.spoken(kept.chain)}",
        f"  signed   {show.when(Moment.of(claims.iat, claims.tzo).text())}",
        f"  state    {kept.state}{': ' + problem['detail'] if problem else ''}",
        *(f"  {name:<8} {_value(value)}" for name, value in claims.data.items()),
        *(f"  {name:<8} {value}  (private)" for name, value in private.items()),
        f"  id       {kept.digest}",
        *([] if err else [f"  text     {kept.text}"]),
    ]
    click.echo("\n".join(map(show.plain, lines)), err=err)


def _value(value: Any) -> str:
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def _row(kept: Kept) -> list[Any]:
    answer = kept.answer or {}
    problem = answer.get("problem") or {}
    state = f"{kept.state}: {problem['detail']}" if problem else kept.state
    return [kept.seq, show.words(kept.act), acting.spoken(kept.chain), state, answer.get("n"), kept.digest]
