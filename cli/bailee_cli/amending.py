"""Amending: corrections, exceptions, affirmations. Nothing that was said is ever removed."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

import click

from bailee.domain import form_acts, numbers, statements
from bailee.domain.facts import choices
from bailee.errors import BadStatement, BaileeError, Malformed
from bailee_cli import acting, reading
from bailee_cli.acting import Act
from bailee_cli.naming import NamingCommand
from bailee_cli.options import Number, act_options
from bailee_cli.session import Session


@click.command("correct", cls=NamingCommand)
@click.argument("number", type=Number())
@click.option("--act", "act", default="collected", show_default=True, help="Which statement about NUMBER.")
@click.option("--field", required=True, help="Member to correct, like flow_after or weather.sky.")
@click.option("--new", required=True, help="What it should have said; null for nothing.")
@click.option(
    "--reason",
    required=True,
    type=click.Choice(choices(form_acts.Corrected, "reason")),
)
@click.option("--statement", help="Id of the statement, when there are several.")
@click.option("--note", help="Free text; kept out of the log.")
@act_options
@click.pass_obj
def correct_command(
    session: Session, number: str, act: str, field: str, new: str, reason: str, statement: str | None, note: str | None,
    offline: bool,
) -> None:  # fmt: skip
    """Correct one value of an earlier statement about NUMBER, a sample or a form. The old value stays visible."""
    found = _find(_own(session), number, act, statement)
    if not offline:
        found = _find(_told(session, number), number, act, statement)
    if found is None:
        raise Malformed(
            f"No statement {act!r} about {numbers.grouped(number)} was found{' on this device' if offline else ''}.",
            code="no-such-statement",
        )
    value = _reading_of(found, field, new)
    said = {
        "statement": found.digest,
        "field": field,
        "old": _value(found.data, field),
        "new": value,
        "reason": reason,
    }
    reading.see(session, [found.chain.removeprefix("form/")], offline=offline)
    click.echo(f"{field}: {json.dumps(said['old'])} becomes {json.dumps(value)}", err=session.json)
    acting.act(session, Act(found.chain, "corrected", said, {"note": note}), offline=offline)


@click.command("except")
@click.argument("rule")
@click.argument("about", type=Number())
@click.option(
    "--reason",
    required=True,
    type=click.Choice(choices(form_acts.Excepted, "reason")),
)
@click.option("--form", "form", type=Number("form"), help="[default: looked up by ABOUT]")
@click.option("--note", help="Free text; kept out of the log.")
@act_options
@click.pass_obj
def except_command(
    session: Session, rule: str, about: str, reason: str, form: str | None, note: str | None, offline: bool
) -> None:
    """Allow the finding of RULE about ABOUT (the number the finding names), with a reason.

    It counts only from a second person: not from whoever collected that sample or opened that form.
    """
    chains = [f"form/{number}" for number in ([form] if form else _forms_about(session, about))]
    reading.see(session, [chain.removeprefix("form/") for chain in chains], offline=offline)
    data = {"rule": rule.upper(), "about": about, "reason": reason}
    acting.act(session, *[Act(chain, "excepted", data, {"note": note}) for chain in chains], offline=offline)


@click.command("affirm", cls=NamingCommand)
@click.argument("form", type=Number("form"))
@click.argument("statement_ids", metavar="STATEMENT...", nargs=-1, required=True)
@act_options
@click.pass_obj
def affirm_command(session: Session, form: str, statement_ids: tuple[str, ...], offline: bool) -> None:
    """Confirm, with your new key, statements on FORM that you made with a key lost or reported since."""
    reading.see(session, [form], offline=offline)
    acting.act(session, Act(f"form/{form}", "affirmed", {"statements": list(statement_ids)}), offline=offline)


@click.command("witness", cls=NamingCommand)
@click.argument("form", type=Number("form"))
@click.argument("statement_ids", metavar="STATEMENT...", nargs=-1, required=True)
@click.option("--note", help="Free text, like what you counted; kept out of the log.")
@act_options
@click.pass_obj
def witness_command(
    session: Session, form: str, statement_ids: tuple[str, ...], note: str | None, offline: bool
) -> None:
    """Say, as a second person, that you watched what statements on FORM say: counted the cassettes, read their numbers."""
    reading.see(session, [form], offline=offline)
    said = Act(f"form/{form}", "witnessed", {"statements": list(statement_ids)}, {"note": note})
    acting.act(session, said, offline=offline)


@dataclass(frozen=True, slots=True)
class _Spoken:
    """One earlier statement."""

    chain: str
    act: str
    digest: str
    data: Mapping[str, Any]


def _own(session: Session) -> list[_Spoken]:
    """What this device said, oldest first."""
    kept = reversed(session.outbox.newest(1000))
    return [_Spoken(each.chain, each.act, each.digest, acting.data_of(each)) for each in kept]


def _told(session: Session, number: str) -> list[_Spoken]:
    """What anybody said on the form, oldest first, from the auditor's file."""
    from bailee.ledger import entry as entries
    from bailee.signing import signed_statement

    form = number if numbers.kind_of(number) == "form" else reading.form_of(session, number)
    spoken = []
    for each in session.service.get(f"/forms/{form}/bundle")["entries"]:
        entry = entries.read(each["entry"])
        claims = signed_statement.read(entry.stmt).claims
        if entry.chain == f"form/{form}":
            spoken.append(
                (entry.n, _Spoken(entry.chain, claims.act, signed_statement.digest(entry.stmt), claims.data))
            )
    return [said for _, said in sorted(spoken, key=lambda pair: pair[0])]


def _find(spoken: Sequence[_Spoken], number: str, act: str, digest: str | None) -> _Spoken | None:
    """The newest statement that fits, as it stands after the corrections it already had."""
    fitting = [
        s for s in spoken if s.act == act and _fits(number, s.chain, s.data) and digest in (None, s.digest)
    ]
    if not fitting:
        return None
    found = fitting[-1]
    for each in spoken:
        if each.act == "corrected" and each.data["statement"] == found.digest:
            found = replace(found, data=_with(found.data, each.data["field"].split("."), each.data["new"]))
    return found


def _fits(number: str, chain: str, data: Mapping[str, Any]) -> bool:
    return chain == f"form/{number}" or data.get("sample") == number


def _reading_of(found: _Spoken, field: str, text: str) -> Any:
    """What the typed text means: text itself, or a number, yes, no or null where the act takes no text there."""
    readings = [text]
    with suppress(ValueError):
        readings.append(json.loads(text, parse_float=str))
    fault: BaileeError | None = None
    for value in readings:
        try:
            statements.parse(found.chain, found.act, _with(found.data, field.split("."), value))
        except BadStatement as error:
            fault = error
        else:
            return value
    assert fault is not None
    raise fault


def _value(data: Mapping[str, Any], field: str) -> Any:
    value: Any = data
    for step in field.split("."):
        value = value.get(step) if isinstance(value, Mapping) else None
    return value


def _with(data: Mapping[str, Any], path: list[str], value: Any) -> dict[str, Any]:
    first, *rest = path
    inner = data.get(first)
    return {**data, first: _with(inner if isinstance(inner, Mapping) else {}, rest, value) if rest else value}


def _forms_about(session: Session, about: str) -> list[str]:
    match numbers.kind_of(about):
        case "form":
            return [about]
        case "sample":
            return [reading.form_of(session, about)]
        case "envelope":
            return list(session.service.get(f"/envelopes/{about}")["forms"])
        case _:
            raise Malformed("Say which form, with --form.", code="no-form")
