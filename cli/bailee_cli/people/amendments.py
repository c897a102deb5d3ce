"""Correcting one fact of what was said: which may be corrected and by whom, which statement is meant, what
will count.

The value that stands there now comes from the ledger, and so does who may. Without a network only what this
device itself said can be corrected, as it knows it.

Standing by what was said: affirmations of one's own statements, and what a second person watched.

Allowing a finding: asked first whether it would count, because a second person's signature is not to be
wasted.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Final

import click

from bailee.asking import written
from bailee.domain import corrections, numbers, statements
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import Affirmed, Collected, Corrected, Excepted, Witnessed
from bailee.domain.acts.table import ON_CHAIN, name_of
from bailee.domain.facts import choices
from bailee.domain.moments import Moment, offset_text
from bailee.domain.numbers import grouped
from bailee.errors import BadStatement, BaileeError, Forged, Malformed, Refused
from bailee.signing import signed_statement
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing import choosing, corrected_values, correction_screen, submit
from bailee_cli.signing import entry_numbers as entry_ids
from bailee_cli.signing.choosing import Stated
from bailee_cli.signing.correction_screen import Change
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, prompts, show, yes_no
from bailee_cli.terminal.command_kinds import AskingCommand, NamingCommand
from bailee_cli.terminal.options import (
    Number,
    Whole,
    act_options,
    anyway_option,
    note_option,
    present,
)

_ACTS: Final = [act for act, row in ON_CHAIN["form"].items() if not row.fixed]
"""No time of day: nobody is asked on whose clocks it was read."""


@click.command("correct", cls=NamingCommand)
@click.argument("number", type=Number())
@click.argument("assignments", metavar="[FIELD=VALUE]...", nargs=-1)
@click.option(
    "--field", help="Fact to correct, like flow_after or weather.sky; the same as FIELD=VALUE with --new."
)
@click.option("--new", help="The corrected value; null for nothing.")
@click.option(
    "--reason", type=click.Choice(choices(form_acts.Corrected, "reason")), help="Why it is corrected."
)
@click.option(
    "--act",
    "act",
    type=click.Choice(_ACTS),
    help="Which entry about NUMBER. [default: the one that has the fact]",
)
@click.option("--statement", help="Which of several such entries: its entry number, or the start of its id.")
@note_option
@anyway_option
@act_options
@click.pass_obj
def correct_command(
    session: Session, number: str, assignments: tuple[str, ...], field: str | None, new: str | None,
    reason: str | None, act: str | None, statement: str | None, note: str | None, offline: bool,
) -> None:  # fmt: skip
    """Correct a fact of an earlier entry about NUMBER, a sample, form or envelope.

    The old value stays visible.

    Without FIELD=VALUE it lists what may be corrected, the values in force, and who may. Inner facts have
    dotted names, like preparation.windows_closed_h=12; several may be given at once.
    """
    if numbers.kind_of(number) == "lot":
        raise Malformed(
            "A lot's expiration date is corrected with `bailee lot expiry`; nothing else of a lot is.",
            code="is-a-lot",
        )
    wanted = _wanted(assignments, field, new)
    found = choosing.known(session, number, offline=offline)
    if not wanted:
        _list(session, number, [each for each in found if act in (None, each.act)])
        return
    if reason is None and not prompts.may_ask(session):
        raise Malformed(
            f"Enter why, with --reason: {', '.join(choices(form_acts.Corrected, 'reason'))}. Nothing was"
            " signed.",
            code="no-reason",
        )

    def changes() -> list[Change]:
        return [
            made
            for chain in dict.fromkeys(each.chain for each in found) or ("",)
            for made in _changes(
                session, number, [e for e in found if e.chain == chain], wanted, act, statement
            )
        ]

    def take(field: str, text: str) -> None:
        before = list(wanted)
        wanted[:] = [(name, text if f".{field}".endswith(f".{name}") else was) for name, was in before]
        try:
            changes()
        except BaileeError:
            wanted[:] = before
            raise

    def settled() -> None:
        correction_screen.settle(session, changes, take, offline=offline)

    cache.see(session, [each.chain.removeprefix("form/") for each, _, _ in changes()], offline=offline)
    settled()
    wanted += _reckoned(session, number, found, wanted)
    settled()
    reason = reason or correction_screen.why()
    if prompts.may_ask(session):
        reason = correction_screen.agree(session, changes, take, settled, reason)
    else:
        _tell(session, changes())
    acts = [
        Act(stated.chain, name_of(Corrected), {**data, "reason": reason}, {"note": note})
        for change in changes()
        for stated, data in _corrections(change)
    ]
    submit.act(session, *acts, offline=offline)


def _wanted(assignments: Iterable[str], field: str | None, new: str | None) -> list[tuple[str, str]]:
    """Names and what they should have said, as typed."""
    if (field is None) != (new is None):
        raise Malformed("--field and --new go together: the fact, and its corrected value.", code="no-value")
    wanted = [] if field is None or new is None else [(field, new)]
    for each in assignments:
        name, is_given, text = each.partition("=")
        if not is_given:
            raise Malformed(
                f"Write the fact and its value as {name}=VALUE. Nothing was signed.", code="no-value"
            )
        wanted.append((name, text))
    return wanted


def _reckoned(
    session: Session, number: str, found: Sequence[Stated], wanted: Sequence[tuple[str, str]]
) -> list[tuple[str, str]]:
    """The start that goes with a corrected run, where it was reckoned back from it: asked at a terminal,
    elsewhere said.
    """
    runs = [text for name, text in wanted if name == "run_s"]
    if not runs or any(name == "started" for name, _ in wanted):
        return []
    own = {each.digest: each for each in session.outbox.newest(1000) if each.act == name_of(Collected)}
    stated = next((each for each in found if each.digest in own and number in each.names), None)
    if stated is None:
        return []
    try:
        run = written.run(runs[0])
    except BaileeError:
        return []  # it is refused below, with the name of the fact
    start = Moment.parse(stated.data["started"])
    signed = signed_statement.read(own[stated.digest].text).claims.iat
    if start.epoch_seconds + stated.data["run_s"] != signed or run == stated.data["run_s"]:
        return []
    meant = Moment.of(signed - run, offset_text(start.offset_minutes)).text()
    layout.warn(
        f"The start, {show.when(start.text())}, was computed back from a run that had just ended. With {run}"
        f" s it was {show.when(meant)}."
    )
    if prompts.may_ask(session):
        return [("started", meant)] if yes_no.asked("Correct the start too?") else []
    layout.warn(f"Not corrected with it: add started={meant} if that is so.")
    return []


def _changes(
    session: Session, number: str, found: Sequence[Stated], wanted: Sequence[tuple[str, str]],
    act: str | None, which: str | None,
) -> list[Change]:  # fmt: skip
    """What would stand on one form with the values of all that was typed."""
    changed: dict[str, tuple[Stated, dict[str, Any], list[str]]] = {}
    for name, text in wanted:
        stated, field = choosing.choose(number, found, name, act, which)
        value = corrected_values.meant(session, stated, field, text)
        _, data, fields = changed.get(stated.digest, (stated, dict(stated.data), []))
        changed[stated.digest] = (stated, corrections.with_value(data, field, value), [*fields, field])
    for stated, data, fields in changed.values():
        for field in fields:
            _require_counts(stated, data, field)
        _require_whole(number, stated, data)
    return list(changed.values())


def _tell(session: Session, changes: Iterable[Change]) -> None:
    """Say what becomes of what, where nobody is asked."""
    for stated, data, fields in changes:
        for field in fields:
            before, after = corrections.value(stated.data, field), corrections.value(data, field)
            click.echo(show.plain(f"{field}: {_shown(before)} becomes {_shown(after)}"), err=session.json)


def _corrections(change: Change) -> Iterator[tuple[Stated, dict[str, Any]]]:
    """What to sign of a change: one correction for each outermost fact."""
    stated, typed, fields = change
    data = written.as_signed(typed)
    for outer in dict.fromkeys(field.partition(".")[0] for field in fields):
        old, new = stated.data.get(outer), data.get(outer)
        yield stated, {"statement": stated.digest, "field": outer, "old": old, "new": new}


def _require_counts(stated: Stated, data: Mapping[str, Any], field: str) -> None:
    """Raise `Refused` when this person's correction would not be followed, or would change nothing."""
    fact = stated.fact(field)
    if fact.why_not:
        raise Refused(
            f"This correction of {field} ({stated.words}) would not count: {fact.why_not}. It needs"
            f" {fact.who}. Nothing was signed.",
            code="would-not-count",
            who=fact.who,
        )
    outer = field.partition(".")[0]
    if stated.data.get(outer) == data.get(outer):
        said = _shown(corrections.value(data, field))
        raise Refused(
            f"{field} ({stated.words}) has {said} already. Nothing was signed.", code="said-already"
        )


def _require_whole(number: str, stated: Stated, data: Mapping[str, Any]) -> None:
    """Raise `BadStatement` when the statement could not stand like this.

    What else must be said of the same thing is named.
    """
    try:
        statements.parse(stated.chain, stated.act, written.as_signed(data))
    except BadStatement as error:
        at = [
            fault["at"].removeprefix("/data/").replace("/", ".")
            for fault in error.facts["errors"]
            if fault["says"] == "is missing"
        ]
        if not at:
            raise
        missing = " ".join(f"{name}=…" for name in at)
        raise BadStatement(
            f"{', '.join(at)} must be entered with it: add {missing} to the same `bailee correct {number}`."
            " Nothing was signed.",
            **error.facts,
        ) from error


def _list(session: Session, number: str, found: Sequence[Stated]) -> None:
    """What may be corrected, statement by statement."""
    if session.json:
        show.print_json([each.as_json() for each in found])
        return
    if not found:
        show.say(f"No entry about {numbers.grouped(number)} was found that may be corrected.")
    for each in found:
        said = [fact for fact in each.facts if fact.value is not None]
        rows = [(fact.field, _shown(fact.value), fact.whom) for fact in said]
        show.table(
            f"{each.words[:1].upper()}{each.words[1:]}, --statement {each.mark}",
            ["fact", "in force", "may be corrected by"],
            rows,
        )
        for whom in dict.fromkeys(fact.whom for fact in each.facts if fact.value is None):
            names = [fact.field for fact in each.facts if fact.value is None and fact.whom == whom]
            show.say(f"Not entered, may be supplied by {whom}: {', '.join(names)}.", "  ")
    if numbers.kind_of(number) == "form":
        show.say("Facts of one cassette: give its number. Facts of an envelope alone: give the envelope's.")
    show.say(
        f"Correct one with `bailee correct {number} FACT=VALUE --reason …`; --act chooses the entry where"
        " several have it."
    )


def _shown(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)


@click.command("affirm", cls=NamingCommand)
@click.argument("form", type=Number("form"))
@click.argument("entry_numbers", metavar="ENTRY...", nargs=-1, required=True)
@act_options
@click.pass_obj
def affirm_command(session: Session, form: str, entry_numbers: tuple[str, ...], offline: bool) -> None:
    """Confirm, with your new key, entries on FORM that you made with a key lost or reported since.

    ENTRY is the entry number of one, or its id. `bailee check` prints the command with all of them.
    """
    ids = entry_ids.ids(session, form, entry_numbers, offline=offline)
    cache.see(session, [form], offline=offline)
    submit.act(session, Act(f"form/{form}", name_of(Affirmed), {"statements": ids}), offline=offline)


@click.command("witness", cls=NamingCommand)
@click.argument("form", type=Number("form"))
@click.argument("entry_numbers", metavar="ENTRY...", nargs=-1, required=True)
@click.option(
    "--samples", type=Number("sample"), multiple=True, help="A number that you read on a cassette yourself."
)
@click.option("--count", type=Whole(0), help="Cassettes that you counted by hand.")
@click.option("--note", help="Free text; kept out of the log.")
@act_options
@click.pass_obj
def witness_command(
    session: Session,
    form: str,
    entry_numbers: tuple[str, ...],
    samples: tuple[str, ...],
    count: int | None,
    note: str | None,
    offline: bool,
) -> None:
    """Sign, as a second person, that you watched what entries on FORM record.

    ENTRY is the entry number of one; without a network its id, as `bailee outbox` on the device that signed
    it lists it. Enter what you counted and each number that you read. An entry then counts as watched only
    if you read the number of every cassette that it names.
    """
    ids = entry_ids.ids(session, form, entry_numbers, offline=offline)
    cache.see(session, [form], offline=offline)
    data = present({"statements": ids, "samples": list(samples) or None, "count": count})
    submit.act(session, Act(f"form/{form}", name_of(Witnessed), data, {"note": note}), offline=offline)


@click.command("except", cls=AskingCommand)
@click.argument("rule")
@click.argument("about", type=Number())
@click.option(
    "--reason",
    required=True,
    type=click.Choice(choices(form_acts.Excepted, "reason")),
)
@click.option("--form", "form", type=Number("form"), help="[default: looked up by ABOUT]")
@note_option
@act_options
@click.pass_obj
def except_command(
    session: Session, rule: str, about: str, reason: str, form: str | None, note: str | None, offline: bool
) -> None:
    """Allow the finding of RULE about ABOUT (the number the finding names), with a reason.

    It counts only from a second person: not from the person who collected that sample or opened that form,
    signed the entry that the finding rests on, or seals or ships the envelope.
    """
    rule = rule.upper()
    forms = _offline(rule, about, form) if offline else _asked(session, rule, about, reason, form)
    seen = cache.see(session, forms, offline=offline)
    if forms != [form or about] and prompts.may_ask(session):
        session.was_asked = True  # the ledger named these forms, not the person
        for told in seen.values():
            inside = [s["sample"] for s in told["samples"] if about in (s["sample"], s["envelope"])]
            click.echo(layout.listed(f"On form {grouped(told['form'])}: ", map(grouped, inside)), err=True)
    data = {"rule": rule, "about": about, "reason": reason}
    submit.act(
        session,
        *[Act(f"form/{number}", name_of(Excepted), data, {"note": note}) for number in forms],
        offline=offline,
    )


def _asked(session: Session, rule: str, about: str, reason: str, form: str | None) -> list[str]:
    """The forms on which to say it.

    Raises `Refused` when it would not count, `Malformed` when the rule speaks of other numbers.
    """
    told: dict[str, Any] = session.service.get(
        "/exceptions", rule=rule, about=about, reason=reason, form=form
    )
    if not told["findings"] and told["others"]:
        others = ", ".join(show.name(each) for each in told["others"])
        raise Malformed(
            f"{rule} has no finding about {grouped(about)}; it has one about {others}. Enter the number in"
            " the finding. Nothing was signed.",
            code="not-about-this",
        )
    if not told["counts"]:
        raise Refused(
            f"This exception would not count: {told['why_not']}. It needs {told['who']}. Nothing was signed.",
            code="would-not-count",
            who=told["who"],
        )
    if told["holds"]:
        show.say(
            "You hold these samples. If you seal or ship them yourself, this exception will not count.",
            err=session.json,
        )
    if not told["findings"]:
        unseen = (
            "; what rests on the shipment shows only when `bailee ship` asks"
            if numbers.kind_of(about) == "envelope"
            else ""
        )
        show.say(
            f"{rule} finds nothing about {grouped(about)} at present{unseen}: the exception counts once it"
            " does.",
            err=session.json,
        )
    return [form] if form else list(told["forms"])


def _offline(rule: str, about: str, form: str | None) -> list[str]:
    """The same as far as this device alone knows."""
    from bailee.rules import exceptions

    try:
        exceptions.require(rule)
    except Forged as error:
        raise Malformed(f"{error.sentence} Nothing was signed.", code=error.code, **error.facts) from error
    if form is None and numbers.kind_of(about) != "form":
        raise Malformed(
            "Without a network the form cannot be looked up: enter it with --form.", code="no-form"
        )
    return [form or about]
