"""Whoever holds samples: where they are, how they are kept, to whom they go."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import nullcontext, suppress
from functools import partial
from typing import Any, get_args

import click

from bailee.asking import hand_over_slips, steps
from bailee.asking.slips import Slip
from bailee.domain import numbers
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import Held, Received, Relinquished
from bailee.domain.acts.table import name_of
from bailee.domain.fields import Secured
from bailee.domain.numbers import kind_of
from bailee.errors import BaileeError, Malformed, Refused
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing import duplicates, entry_numbers, from_paper, lookups, scans, submit, time_order
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import piped, prompts, show
from bailee_cli.terminal.command_kinds import AskingCommand, ToColleagueCommand
from bailee_cli.terminal.done_times import done
from bailee_cli.terminal.options import (
    Number,
    Whole,
    act_options,
    anyway_option,
    at_a_terminal,
    moment,
    note_option,
    one_form_option,
    present,
    time_options,
    until_read,
)

_NUMBERS = click.argument("numbers", nargs=-1, type=Number())
_CONDITIONS = get_args(form_acts.Condition)
count_option = click.option(
    "--count",
    type=Whole(0),
    help="Cassettes counted. [default: asked; not counted where there is no terminal]",
)


@click.command("secure", cls=AskingCommand)
@_NUMBERS
@click.option(
    "--how",
    "secured",
    required=True,
    type=click.Choice(get_args(Secured)),
    help="One of the five ways to secure samples.",
)
@click.option(
    "--where",
    required=True,
    type=click.Choice(["person", "vehicle", "office", "home", "laboratory", "other"]),
)
@click.option("--until", help="When that ended, if it has.")
@click.option("--place", help="Where exactly, in words; never in the log.")
@one_form_option
@note_option
@from_paper.option
@time_options
@act_options
@click.pass_obj
def secure_command(
    session: Session, numbers: tuple[str, ...], secured: str, where: str, until: str | None,
    place: str | None, form: str | None, note: str | None, at: str | None, zone: str | None, offline: bool,
) -> None:  # fmt: skip
    """Record how samples are secured: NUMBERS are samples, a form or an envelope; none means all you hold on
    your current form.

    possession: on you. view: in your view. locked: under lock and key. restricted: in a room others
    cannot enter. sealed: in a container whose seal would show an opening.
    """
    groups: Mapping[str, Sequence[str] | None]
    groups = (
        cache.by_form(session, numbers, form, mine=True)
        if numbers
        else {cache.current_form(session, form): None}
    )
    seen = cache.see(session, groups, offline=offline)
    for number, samples in groups.items():
        if samples is None and number in seen:
            _require_held(session, seen[number])
    acts = []
    for number, samples in groups.items():
        in_zone = zone or cache.zone_of(session, number)
        data = {
            "samples": samples,
            "secured": secured,
            "where": where,
            "since": _when(
                session,
                name_of(Held),
                number,
                at,
                in_zone,
                partial(time_order.before_securing, session, number, seen.get(number), samples),
            ),
            "until": moment(session, until, in_zone).text() if until else None,
        }
        acts.append(Act(f"form/{number}", name_of(Held), present(data), {"place": place, "note": note}))
    submit.act(session, *acts, offline=offline)


@click.command("give", cls=ToColleagueCommand)
@_NUMBERS
@click.option("--to", "to", required=True, help="Short name of the organization that receives them.")
@click.option("--to-key", help="Key ID of the person who receives them.")
@click.option("--purpose", type=click.Choice(get_args(form_acts.Purpose)))
@click.option("--expected", help="When it is to arrive, of what is carried some way.")
@count_option
@one_form_option
@note_option
@scans.options
@anyway_option
@from_paper.option
@time_options
@act_options
@click.pass_obj
def give_command(
    session: Session, numbers: tuple[str, ...], to: str, to_key: str | None, purpose: str | None,
    expected: str | None, count: int | None, form: str | None, note: str | None, at: str | None,
    zone: str | None, offline: bool, leave_out: tuple[str, ...], anew: bool,
) -> None:  # fmt: skip
    """Relinquish samples to another person: NUMBERS are samples, a form or an envelope; none asks you to
    scan.

    The person who receives them signs with `bailee take`; read them the entry id where there is no network.
    """
    to = _known(session, to, offline=offline)
    if to_key and to == session.profile.org:
        to_key = lookups.key_id(session, to_key, offline=offline)
    with nullcontext() if numbers else scans.surviving(session, "give", to):
        numbers = numbers or _scanned(session, "give", to, leave_out, anew=anew)
        groups = cache.by_form(session, numbers, form, mine=True)
        seen = cache.see(session, groups, offline=offline)
        _ask_given(session, groups, seen)
        click.get_current_context().params["numbers"] = numbers
        if prompts.may_ask(session):
            # What a form or an envelope stands for is seen before it is given.
            session.was_asked |= any(kind_of(each) != "sample" for each in numbers)
            if purpose is None:
                session.was_asked = True
                purpose = prompts.answer(session, steps.PURPOSE)
        counts = counts_by_hand(session, groups, count)
        acts = [
            Act(
                f"form/{number}",
                name_of(Relinquished),
                present(
                    {
                        "samples": samples,
                        "count": counts[number],
                        "to": to,
                        "to_kid": to_key,
                        "purpose": purpose,
                        "expected": (
                            moment(session, expected, zone or cache.zone_of(session, number)).text()
                            if expected
                            else None
                        ),
                        "at": _when(
                            session,
                            name_of(Relinquished),
                            number,
                            at,
                            zone,
                            partial(time_order.before_giving, session, number, seen.get(number), samples),
                        ),
                    }
                ),
                {"note": note},
            )
            for number, samples in groups.items()
        ]
        kept = submit.act(session, *acts, offline=offline)
    for each in kept:
        click.echo(f"Entry id: {each.digest}", err=session.json)


def _known(session: Session, to: str, *, offline: bool) -> str:
    """An organization that the ledger knows; where somebody can be asked, what they type instead."""

    def read(name: str) -> str:
        lookups.require(session, name, offline=offline)
        return name

    found = str(until_read(read, to, asks=not session.json))
    click.get_current_context().params["to"] = found
    return found


@click.command("take", cls=AskingCommand)
@_NUMBERS
@click.option(
    "--condition",
    multiple=True,
    type=click.Choice(_CONDITIONS),
    help="Of every cassette.  [default: asked for each]",
)
@count_option
@click.option("--purpose", type=click.Choice(get_args(form_acts.Purpose)))
@click.option(
    "--ref",
    "refs",
    multiple=True,
    help="Entry number of the relinquishing entry, on the other person's screen; offline its entry id.",
)
@one_form_option
@note_option
@scans.options
@anyway_option
@from_paper.option
@time_options
@act_options
@click.pass_obj
def take_command(
    session: Session, numbers: tuple[str, ...], condition: tuple[str, ...], count: int | None,
    purpose: str | None, refs: tuple[str, ...], form: str | None, note: str | None, at: str | None,
    zone: str | None, offline: bool, leave_out: tuple[str, ...], anew: bool,
) -> None:  # fmt: skip
    """Receive samples from another person: NUMBERS are samples, a form or an envelope.

    None asks you to scan.
    """
    with nullcontext() if numbers else scans.surviving(session, "take", ""):
        numbers = numbers or _scanned(session, "take", "", leave_out, anew=anew)
        click.get_current_context().params["numbers"] = numbers
        _take(
            session,
            numbers,
            condition,
            refs,
            form=form,
            count=count,
            purpose=purpose,
            note=note,
            at=at,
            zone=zone,
            offline=offline,
        )


def _take(
    session: Session, numbers: Sequence[str], condition: tuple[str, ...], refs: tuple[str, ...], *,
    form: str | None, count: int | None, purpose: str | None, note: str | None, at: str | None,
    zone: str | None, offline: bool,
) -> None:  # fmt: skip

    def is_what_was_taken(data: Mapping[str, Any]) -> bool:
        taken = all(not condition or item["condition"] == list(condition) for item in data["items"])
        return taken and purpose in (None, data.get("purpose"))

    if not offline and submit.finish(session, name_of(Received), numbers, is_what_was_taken):
        return
    groups = cache.by_form(session, numbers, form)
    seen = cache.see(session, groups, offline=offline)
    if not offline:
        for number, samples in groups.items():
            duplicates.refuse_held(session, number, samples)
        left = cache.given_besides(session, seen, [each for part in groups.values() for each in part])
        prompts.settle(session, lambda: hand_over_slips.left_with_giver(left))
        if not refs:
            _ask_not_given(session, groups, at, zone)
    counts = counts_by_hand(session, groups, count)
    if not condition:
        _ask_all_intact(session, [each for samples in groups.values() for each in samples])
    items = {
        number: [
            {"sample": each, "condition": list(condition) or ask_condition(session, each)} for each in samples
        ]
        for number, samples in groups.items()
    }
    if purpose is None and prompts.may_ask(session) and not _names_purpose(groups, seen):
        session.was_asked = True
        purpose = prompts.answer(session, steps.PURPOSE_RECEIVED)
    acts = []
    for number in groups:
        data: dict[str, Any] = {
            "items": items[number],
            "count": counts[number],
            "purpose": purpose,
            "at": _when(
                session,
                name_of(Received),
                number,
                at,
                zone,
                partial(time_order.before_taking, session, number, seen.get(number), groups[number]),
            ),
        }
        named = tuple(entry_numbers.ids(session, number, refs, offline=offline))
        acts.append(Act(f"form/{number}", name_of(Received), present(data), {"note": note}, named))
    submit.act(session, *acts, offline=offline)


def _names_purpose(groups: Mapping[str, Sequence[str]], seen: Mapping[str, Mapping[str, Any]]) -> bool:
    """Whether whoever relinquished all of them has named the purpose, as far as the ledger showed it."""
    given = {each["sample"]: each["given"] for told in seen.values() for each in told["samples"]}
    named = [given.get(sample) for samples in groups.values() for sample in samples]
    return all(each and each.get("purpose") for each in named)


def _when(
    session: Session, act: str, form: str, at: str | None, zone: str | None, known: time_order.Known
) -> str:
    """When something was done with samples of a form, on the clocks of its site."""
    return time_order.when(session, act, at, zone or cache.zone_of(session, form), known).text()


def _ask_given(
    session: Session, groups: Mapping[str, Sequence[str]], seen: Mapping[str, Mapping[str, Any]]
) -> None:
    """Ask back at a terminal what is relinquished already and not received. Elsewhere it is another try."""
    given = {
        each["sample"]: (each["given"]["by"], each["given"]["to"])
        for form, told in seen.items()
        for each in told["samples"]
        if each["given"] and each["sample"] in groups[form]
    }
    if prompts.may_ask(session) and not session.both:
        prompts.settle(session, lambda: hand_over_slips.given_already(given))


def _ask_not_given(
    session: Session, groups: Mapping[str, Sequence[str]], at: str | None, zone: str | None
) -> None:
    """Ask back at a terminal what no one relinquished to this person, as the rule book finds it. Elsewhere it
    is signed: the other person may not have sent their entry yet.
    """
    if not prompts.may_ask(session):
        return
    found: list[Slip] = []
    for number, samples in groups.items():
        when = done(session, name_of(Received), at, zone or cache.zone_of(session, number)).text()
        items = [{"sample": each, "condition": ["not_looked_at"]} for each in samples]
        asked = {"act": name_of(Received), "data": {"items": items, "at": when}}
        with suppress(BaileeError):  # without a network it is judged when it arrives
            found += [
                Slip("not-given", "numbers", each["about"], each["sentence"], each["remedy"])
                for each in session.service.post("/readiness", asked)["findings"]
            ]
    prompts.settle(session, lambda: found)


def _require_held(session: Session, told: Mapping[str, Any]) -> None:
    """Raise `Refused` ("holds-nothing") when this person holds nothing of a form, and nothing waits here."""
    waits = any(each.chain == f"form/{told['form']}" for each in session.outbox.unsettled("waiting"))
    if not waits and not cache.held(session, told):
        raise Refused(
            f"You hold nothing of form {numbers.grouped(told['form'])}: there is nothing to secure. Nothing"
            " was signed: name what you hold, or the form with --form.",
            code="holds-nothing",
        )


def _scanned(
    session: Session, verb: scans.Verb, about: str, leave_out: Sequence[str], *, anew: bool
) -> tuple[str, ...]:
    """Scanned before and now, at least one."""
    before = scans.again(session, verb, about, leave_out=leave_out, anew=anew)
    return scans.require(scans.scanned(session, verb, about, before.samples if before else ()))


def counts_by_hand(
    session: Session, groups: Mapping[str, Sequence[str]], count: int | None
) -> dict[str, int | None]:
    """What was counted by hand, by form; None where nobody counted. It is asked where somebody can answer.

    A count that is not the number of cassettes named is asked back: who holds another number than they sign
    for has left one out, or named one too many. Raises `Malformed` for one count of the samples of two
    forms: each form's statement has its own.
    """
    if count is not None and len(groups) > 1:
        raise Malformed(
            f"These samples are of {len(groups)} forms, and {count} is one count: name those of one form at a"
            " time, or leave --count out.",
            code="count-of-several-forms",
        )
    counts: dict[str, int | None] = dict.fromkeys(groups, count)
    if count is None and not session.json and at_a_terminal():
        counts = {form: _ask_count(session, form, alone=len(groups) == 1) for form in groups}
    for form, samples in groups.items():
        prompts.settle(
            session,
            partial(_differs, counts, form, len(samples)),
            {"count": partial(_count, counts, form)},
        )
    return counts


def _differs(counts: Mapping[str, int | None], form: str, named: int) -> Iterator[Slip]:
    """Judged anew after each answer."""
    return hand_over_slips.counted(counts[form], named)


def _count(counts: dict[str, int | None], form: str, text: str) -> None:
    if not text.isdecimal():
        raise Malformed(f"{text!r} is not a count: write a whole number.", code="bad-measure")
    counts[form] = int(text)
    if len(counts) == 1:
        click.get_current_context().params["count"] = counts[form]


def _ask_count(session: Session, form: str, *, alone: bool) -> int | None:
    session.was_asked = True
    found: int | None = prompts.answer(session, steps.count_by_hand("" if alone else numbers.grouped(form)))
    return found


def _ask_all_intact(session: Session, samples: Sequence[str]) -> None:
    """Ask once about several at a terminal: a yes answers for each, a no leaves each to be asked about."""
    members = [steps.condition(numbers.grouped(each)).member for each in samples]
    if len(samples) > 1 and prompts.may_ask(session) and session.answered.keys().isdisjoint(members):
        session.was_asked = True
        if each_is_intact(show.counted(len(samples), "cassette"), "condition"):
            session.answered |= {member: ["intact"] for member in members}


def each_is_intact(many: str, option: str) -> bool:
    """Whether so many were looked at and found intact: asked, with no default (RC-12)."""
    return piped.confirmed(f"{many}: was each looked at, and is each intact?", option, default=None)


def ask_condition(session: Session, sample: str) -> list[str]:
    """The condition of one cassette, asked until it is said, by number or word; several with commas."""
    session.was_asked = True
    answer: list[str] = prompts.answer(session, steps.condition(numbers.grouped(sample)))
    return answer
