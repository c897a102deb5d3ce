"""The inspector: open the form, collect cassette by cassette, void what was lost."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Collection, Iterator, Mapping
from contextlib import nullcontext
from datetime import date
from functools import cache as cache_once
from functools import partial
from typing import Any, Final

import click

from bailee.asking import opening_slips, written_times
from bailee.asking.slip import Slip
from bailee.domain import cautions, numbers
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import Opened, Voided
from bailee.domain.acts.table import name_of
from bailee.domain.facts import choices
from bailee.domain.fields import EDITION, PRIVATE_OF_A_VISIT
from bailee.domain.moments import Moment
from bailee.errors import BaileeError, Refused
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people.visit import interview, observations
from bailee_cli.signing import duplicates, lookups, scans, submit, visits
from bailee_cli.signing.interrupted import Interrupted
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, prompts, show, yes_no
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.options import (
    Number,
    Written,
    act_options,
    anyway_option,
    at_a_terminal,
    note_option,
    present,
    yes_option,
)


@click.command("open", cls=AskingCommand)
@click.option("--lab", help="Short name of the laboratory.  [required]")
@click.option("--firm", help="Short name of the sampling firm.  [default: yours]")
@click.option(
    "--zone", type=Written("zone"), help="Time zone of the site, like America/New_York.  [required]"
)
@click.option(
    "--visit", type=Written("day"), help="Day of the visit, like 2026-11-25.  [default: today at the site]"
)
@click.option("--form", "form", type=Number("form"), help="Use this form number.  [default: a new one]")
@click.option("--client", help="Client; never in the log.")
@click.option("--site", help="Address; never in the log.")
@click.option("--contact", help="Whom to call; never in the log.")
@click.option("--question", help="Sampling question; never in the log.")
@note_option
@click.option("--method")
@click.option("--project")
@click.option("--analysis")
@click.option("--turnaround")
@click.option(
    "--ventilation",
    type=click.Choice(["normal", "off", "fan_only", "none", "other"]),
    help="As found on arrival.",
)
@click.option(
    "--windows-closed-h",
    type=Written("decimal"),
    help="Hours the windows were closed before the first sample.",
)
@click.option(
    "--purifiers-off-h",
    type=Written("decimal"),
    help="Hours air cleaners were off; leave out if there are none, or if it is not known.",
)
@click.option(
    "--fresh-air",
    type=click.Choice(choices(form_acts.Preparation, "fresh_air")),
    help="Fresh-air exchangers (heat or energy recovery), whole-house and attic fans, as found on arrival.",
)
@click.option("--fresh-air-off-h", type=Written("decimal"), help="Hours they had been off.")
@click.option(
    "--cleaned-h-ago",
    type=Written("decimal"),
    help="Hours since the last cleaning; leave out if not known to be recent.",
)
@observations.opening_options
@click.option("--quiet", is_flag=True, help="Do not print the cautions.")
@scans.anew_option
@anyway_option
@act_options
@click.pass_obj
def open_command(
    session: Session, /, lab: str | None, firm: str | None, zone: str | None, form: str | None, quiet: bool,
    anew: bool, offline: bool, **said: Any,
) -> None:  # fmt: skip
    """Open the form of a visit. Later `bailee collect` uses it until you open or name another.

    At a terminal you are asked for what you leave out, and shown what will be signed. What you answered is
    kept until then: the next `bailee open` goes on with it.
    """
    asks = prompts.may_ask(session) and not (lab and zone)
    if not asks:
        prompts.require(lab=lab, zone=zone)
    if not quiet and not session.json:
        click.echo(layout.told(cautions.in_words()))
    if firm:
        lookups.require(session, firm, offline=offline)
    firm = firm or session.profile.org
    with scans.surviving(session, "open", "") if asks else nullcontext():
        before = scans.again(session, "open", "", anew=anew) if asks else None
        begun = Interrupted(session, "open", "", before)
        said["lab"], said["zone"] = lab, zone
        act = _visit(session, firm, form, said, begun, asks=asks, offline=offline)
        kept = submit.perform(session, [act], offline=offline)
        _remember(session, kept[0].chain.removeprefix("form/"), said, offline=offline)
        submit.report(session, kept)


def _remember(session: Session, number: str, said: Mapping[str, Any], *, offline: bool) -> None:
    """Go on with this visit, also in places without a network, and say its number."""
    session.outbox.remember("form", number)
    cache.remember_visit(session, number, said["zone"], said["visit"])
    if not offline:
        try:
            cache.remember_lots(session)
        except BaileeError as error:
            click.echo(f"Lots could not be looked up: {error.sentence}", err=True)
    click.echo(f"Form {numbers.grouped(number)}", err=session.json)


def _visit(
    session: Session, firm: str, form: str | None, said: dict[str, Any], begun: Interrupted, *,
    asks: bool, offline: bool,
) -> Act:  # fmt: skip
    """What will be signed: asked for where somebody can be, and free of slips."""
    unknown = cache_once(partial(lookups.unknown_laboratory, session, offline=offline))
    said["lab"] = (
        said["lab"] or begun.answers.get("lab") or interview.laboratory(session, firm, offline=offline)
    )
    if asks:
        _settle_laboratory(session, firm, said, unknown)
        begun.keep({**begun.answers, "lab": said["lab"]}, ())
    said["zone"] = said["zone"] or begun.answers.get("zone") or interview.zone(session)
    today = Moment.shown_in(session.now, said["zone"]).local_date
    said["visit"] = said["visit"] or today.isoformat()

    def data() -> dict[str, Any]:
        return _opened(session, firm, said)

    def settle() -> None:
        _settle(session, data, said, today, unknown)

    if asks:
        begun.keep({**begun.answers, "zone": said["zone"]}, ())
        needing = lookups.licensing(session, offline=offline)
        beside = partial(_facts, said, data)
        interview.visit(session, said, firm, beside, settle, needing, begun)
    else:
        settle()
    private = {name: said[name] for name in PRIVATE_OF_A_VISIT}
    number = form or numbers.issue("form", secrets.choice)
    return Act(f"form/{number}", name_of(Opened), data(), private, fresh=form is None)


_HOURS: Final = ("windows_closed_h", "purifiers_off_h", "cleaned_h_ago", "works_h_ago")


def _opened(session: Session, firm: str, said: Mapping[str, Any]) -> dict[str, Any]:
    """The facts of the statement."""
    hours = {name: said[name] for name in _HOURS}
    found = present({name: said[name] for name in ("ventilation", "fresh_air", "fresh_air_off_h")})
    prepared = bool(found) or any(value is not None for value in hours.values())
    return present(
        {
            "edition": EDITION,
            "parties": {"firm": firm, "lab": said["lab"]},
            "visit": said["visit"],
            "zone": said["zone"],
            **{name: said[name] for name in ("method", "project", "analysis", "turnaround")},
            "preparation": hours | found if prepared else None,
        }
    ) | observations.opening(session, said["zone"], said["question"], said)


def _facts(
    said: Mapping[str, Any], opened: Callable[[], Mapping[str, Any]], asked: Collection[str]
) -> list[tuple[str, str, str]]:
    """What was typed and not asked, for the screen before signing."""
    data = opened()
    private = {name: said[name] for name in PRIVATE_OF_A_VISIT if said[name]}
    rest = {**data, **data.get("preparation", {}), **private}
    beside = [name for name in rest if rest[name] is not None and name not in (*asked, *_ON_THE_SCREEN)]
    return [(name, *visits.fact(name, rest[name])) for name in beside]


_ON_THE_SCREEN: Final = ("edition", "parties", "preparation")
"""Members that stand there in other words, or are of machines."""


def _settle_laboratory(
    session: Session, firm: str, said: dict[str, Any], unknown: Callable[[str], Slip | None]
) -> None:
    """Ask back a laboratory at once, before everything else is asked."""

    def found() -> Iterator[Slip]:
        yield from opening_slips.laboratory(firm, said["lab"])
        if slip := unknown(said["lab"]):
            yield slip

    prompts.settle(session, found, {"lab": lambda text: said.update(lab=text)})


def _settle(
    session: Session, data: Callable[[], dict[str, Any]], said: dict[str, Any], today: date,
    unknown: Callable[[str], Slip | None],
) -> None:  # fmt: skip
    """Ask back what is surely a slip, and take what is typed again."""
    clients, sites = (visits.named_before(session, name) for name in ("client", "site"))
    asks = prompts.may_ask(session)

    def found() -> Iterator[Slip]:
        late = opening_slips.DAYS_LATE if asks else opening_slips.DAYS_AWAY
        yield from opening_slips.opened(data(), today, late)
        if slip := unknown(said["lab"]):
            yield slip
        if asks:  # elsewhere it is signed: it is kept out of the log
            yield from opening_slips.swapped(said["client"], said["site"], clients, sites)

    def site(text: str) -> None:
        if text.lower() == "s":
            said.update(client=said["site"], site=said["client"])
        else:
            said.update(site=text)

    prompts.settle(
        session,
        found,
        {
            "lab": lambda text: said.update(lab=text),
            "visit": lambda text: said.update(visit=written_times.day(text)),
            "site": site,
        },
    )


@click.command("void", cls=AskingCommand)
@click.argument("sample", type=Number("sample"))
@click.option("--reason", required=True, type=click.Choice(choices(form_acts.Voided, "reason")))
@click.option("--form", "form", type=Number("form"), help="[default: looked up by the number]")
@note_option
@yes_option
@act_options
@click.pass_obj
def void_command(
    session: Session,
    /,
    sample: str,
    reason: str,
    form: str | None,
    note: str | None,
    yes: bool,
    offline: bool,
) -> None:
    """Record that a sample will not be analyzed, and why. Nothing about it is deleted.

    What the rules would find is shown before, and you are asked; where no one can be asked nothing is
    signed without --yes.
    """
    said = {"sample": sample, "reason": reason}
    if not offline and submit.finish(
        session, name_of(Voided), [sample], lambda data: data["reason"] == reason
    ):
        return
    if form is None:
        form = cache.current_form(session, None) if offline else cache.form_of(session, sample)
    cache.see(session, [form], offline=offline)
    if not offline:
        duplicates.refuse_void(session, form, sample)
        _agree_to_void(session, form, said, yes=yes)
    submit.act(session, Act(f"form/{form}", name_of(Voided), said, {"note": note}), offline=offline)


def _agree_to_void(session: Session, form: str, said: dict[str, Any], *, yes: bool) -> None:
    """Say before it is signed what the ledger would remark afterwards.

    Without an answer from the service nothing is remarked.

    Raises `Refused` ("warned") when something is and nobody can be asked.
    """
    try:
        asked = {"act": name_of(Voided), "data": said, "form": form}
        found = session.service.post("/readiness", asked)["findings"]
    except BaileeError:
        return
    if not found:
        return
    if not session.json:
        show.findings(found)
    if yes:
        return
    if session.json or not at_a_terminal():
        raise Refused(
            f"{numbers.grouped(said['sample'])} would be voided with {show.counted(len(found), 'remark')}."
            " Nothing was signed: --yes signs it all the same.",
            code="warned",
            findings=found,
        )
    if not yes_no.asked("Record it anyway?"):
        prompts.give_up()
