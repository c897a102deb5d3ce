"""The shipping clerk: what is missing, seal, hand over.

A gesture signs one statement per form, prepared by the service. Before signing, each is compared with what
the clerk scanned and typed: the service cannot make a device say anything else.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any, get_args

import click

from bailee.asking import hand_over_slips, slips, steps, written
from bailee.asking.steps import Ask
from bailee.domain import numbers
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import Sealed, Shipped, Unsealed
from bailee.domain.acts.table import ROWS, name_of
from bailee.domain.facts import choices
from bailee.errors import BaileeError, Broken, Malformed
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people import courier, shipping_windows
from bailee_cli.signing import carriers, duplicates, pictures, scans, submit, time_order
from bailee_cli.signing.answered import KeptAnswers, as_read, ask_anew, counted_again, seal_as_read
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, piped, prompts, show, time_zones, yes_no
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.done_times import done
from bailee_cli.terminal.options import (
    Number,
    Whole,
    Written,
    act_options,
    anyway_option,
    moment,
    note_option,
    present,
    time_options,
    yes_option,
)


@click.command("seal", cls=AskingCommand)
@click.argument("samples", nargs=-1, type=Number("sample"))
@click.option(
    "--envelope", type=Number("envelope"), help="Number on the envelope's label.  [default: a new one]"
)
@click.option("--seal", "seal", help="Number printed on the custody seal.  [default: asked]")
@click.option("--counted", "total", type=Whole(0), help="Cassettes counted. [default: asked]")
@click.option("--across-opening/--not-across-opening", default=None, help="Is the seal across the opening?")
@click.option(
    "--record-enclosed/--no-record-enclosed", default=None, help="Is the custody record in the envelope?"
)
@click.option(
    "--plain-tape",
    is_flag=True,
    default=None,
    help="There is only tape, no numbered seal that shows an opening.",
)
@click.option("--record-pages", type=Whole(0), help="Pages of the custody record put in.")
@click.option("--containers", type=Whole(0), help="Bags or boxes it goes in, if you counted them.")
@click.option(
    "--photo",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Record this picture of the closed envelope by its digest; save the file.",
)
@scans.options
@yes_option
@time_options
@act_options
@click.pass_obj
def seal_command(
    session: Session, /, samples: tuple[str, ...], envelope: str | None, yes: bool, at: str | None,
    zone: str | None, offline: bool, leave_out: tuple[str, ...], anew: bool, **said: Any,
) -> None:  # fmt: skip
    """Scan SAMPLES into an envelope, see what is missing or wrong, then seal it.

    None given: you are asked to scan.

    Not ready: nothing is signed, and the command ends with 1. An envelope is ready only if what it needs was
    seen. What was scanned is kept until it is sealed, whatever happens: the next `bailee seal` goes on with
    it.
    """
    if offline:
        raise Malformed("Readiness needs the ledger: seal when there is a network.", code="needs-network")
    about = [envelope] if envelope else list(samples)
    if about and submit.finish(
        session, name_of(Sealed), about, lambda data: said["seal"] in (None, data["seal"])
    ):
        return
    begun = _begun(session, envelope, samples, anew=anew)
    number = envelope or (begun.about if begun else numbers.issue("envelope", secrets.choice))
    if envelope or begun:
        duplicates.refuse_sealed(session, number)
    with scans.surviving(session, "seal", number):
        scanned = list(
            scans.require(_scanned(session, number, samples, begun, leave_out, adds=bool(envelope)))
        )
        scanned = list(scans.require(_without_spares(session, number, scanned)))
        click.get_current_context().params |= {"envelope": number, "samples": tuple(scanned)}
        zone = zone or time_zones.of_samples(session, scanned)
        known = partial(time_order.before_sealing, session, scanned)
        said |= {
            "envelope": number,
            "samples": scanned,
            "at": time_order.when(session, name_of(Sealed), at, zone, known).text(),
        }
        _seal(session, said, zone=zone, yes=yes)


def _seal(session: Session, said: dict[str, Any], *, zone: str | None, yes: bool) -> None:
    """Ask for what was not said, then whether it may be; `said` is what the statement will say, by the names
    of its members.
    """
    answers = KeptAnswers(session, "seal", said["envelope"], scans.of(session, "seal", said["envelope"]))
    ask = answers.to if prompts.may_ask(session) else partial(prompts.answer, session)
    said["total"] = _counted(session, said["total"], len(said["samples"]), answers, ask)
    said["seal"] = numbers.read_seal(said["seal"] or ask(steps.SEAL_NUMBER))
    is_typed = None not in (said["across_opening"], said["record_enclosed"])
    for member, question in (("across_opening", steps.ACROSS), ("record_enclosed", steps.ENCLOSED)):
        if said[member] is None:
            said[member] = ask(question) == "yes"
    if said["containers"] is None and not is_typed and prompts.may_ask(session):
        said["containers"] = ask(steps.CONTAINERS)
    said["photo"] = pictures.digest(said["photo"]) if said["photo"] else None
    asked, envelope, scanned = present(said), said["envelope"], said["samples"]
    told = session.service.post("/readiness", {"act": name_of(Sealed), "data": asked})
    _require_ready(
        session,
        told,
        f"envelope {numbers.grouped(envelope)}",
        mend=lambda: ask_anew(session, told, name_of(Sealed), answers),
    )
    same = {name: value for name, value in asked.items() if name != "samples"}
    acts = [_as_asked(each, name_of(Sealed), same) for each in told["statements"]]
    if sorted(s for each in acts for s in each.data["samples"]) != sorted(scanned):
        raise _prepared_otherwise()
    _agree(
        session,
        told,
        yes,
        f"Seal {show.counted(len(scanned), 'cassette')} into {numbers.grouped(envelope)} with seal"
        f" {show.name(asked['seal'])} at {show.when(asked['at'], zone)}?",
    )
    _sign(session, acts)
    _manifest(session, asked, acts)


def _counted(
    session: Session, typed: int | None, scanned: int, answers: KeptAnswers, ask: Callable[[Ask], Any]
) -> int:
    """Cassettes counted by hand. One that is not how many were scanned is asked back at a terminal before
    anything else is asked; elsewhere it is judged with the rest.
    """
    if answers.kept.get(f"{scans.ANSWERED}{steps.COUNTED.member}") != str(scanned):
        answers.drop(steps.COUNTED.member)
    counted = ask(steps.COUNTED) if typed is None else typed
    return counted_again(session, counted, scanned, answers, member="total")


def _without_spares(session: Session, envelope: str, scanned: Sequence[str]) -> list[str]:
    """What was scanned, without what has no business in an envelope, if the clerk says so: told at a terminal
    before anything is asked; elsewhere it is judged with the rest.
    """
    stays = list(scanned)
    for each in scanned if prompts.may_ask(session) else ():
        why = _not_to_go(session, each)
        if why:
            layout.warn(f"{numbers.grouped(each)} {why}.")
        if why and yes_no.asked("Leave it out?"):
            stays.remove(each)
            begun = scans.of(session, "seal", envelope)
            scans.keep(session, "seal", envelope, stays, begun.besides if begun else {})
    return stays


def _not_to_go(session: Session, sample: str) -> str:
    """Why a cassette has no business in an envelope, in words; empty when it has, or nobody knows."""
    try:
        told = session.service.get(f"/samples/{sample}")
    except BaileeError:
        return ""
    state = told["state"] or {"void": None, "status": "announced"}
    if state["void"]:
        return "is void"
    is_collected = told["form"] and state["status"] != "announced"
    return "" if is_collected else "was issued and not collected: it is a spare"


@click.command("unseal", cls=AskingCommand)
@click.argument("envelope", type=Number("envelope"))
@click.option(
    "--reason",
    required=True,
    type=click.Choice(choices(form_acts.Unsealed, "reason")),
)
@click.option("--seal", "seal", help="Number read on the seal.  [default: asked]")
@click.option("--form", "form", type=Number("form"), help="The form in it (needed with --offline).")
@note_option
@anyway_option
@time_options
@act_options
@click.pass_obj
def unseal_command(
    session: Session, envelope: str, reason: str, seal: str | None, form: str | None, note: str | None,
    at: str | None, zone: str | None, offline: bool,
) -> None:  # fmt: skip
    """Record that a sealed ENVELOPE was opened again, and why. Sealing it again needs a new seal number."""
    forms = [form] if form else session.service.get(f"/envelopes/{envelope}")["forms"]
    if not seal:
        session.was_asked = True
        seal = prompts.answer(session, steps.SEAL_OPENED)
    seal = seal_as_read(session, str(seal))
    cache.see(session, forms, offline=offline)
    data = {
        "envelope": envelope,
        "seal": seal.strip().upper(),
        "reason": reason,
        "at": done(session, name_of(Unsealed), at, zone).text(),
    }
    submit.act(
        session,
        *[Act(f"form/{each}", name_of(Unsealed), data, {"note": note}) for each in forms],
        offline=offline,
    )


@click.command("ship", cls=AskingCommand)
@click.argument("envelope", type=Number("envelope"))
@click.option("--carrier", help="Carrier, or who carries it. [default: asked; with --by-hand, by hand]")
@click.option(
    "--service", "service_name", help="The carrier's service.  [default: asked; with --by-hand, by hand]"
)
@click.option(
    "--service-days",
    type=Whole(0, 30),
    help="Working days in transit.  [default: asked at a terminal; 1]",
)
@click.option("--saturday", is_flag=True, help="With Saturday delivery.")
@click.option("--by-hand", is_flag=True, help="Carried by a person, without a carrier.")
@click.option("--tracking", help="Number on the airbill. [default: asked, unless hand-carried]")
@click.option(
    "--classified",
    type=click.Choice(get_args(form_acts.Transport)),
    help="Transport class, as the shipper decided it.",
)
@click.option(
    "--forecast-low",
    "forecast_low_c",
    type=Written("degrees_celsius"),
    help="Coldest air forecast on the way, degrees Celsius.",
)
@click.option(
    "--forecast-high",
    "forecast_high_c",
    type=Written("degrees_celsius"),
    help="Hottest air forecast on the way, degrees Celsius.",
)
@courier.options
@anyway_option
@yes_option
@time_options
@act_options
@click.pass_obj
def ship_command(
    session: Session, /, envelope: str, carrier: str | None, service_name: str | None,
    service_days: int | None, saturday: bool, by_hand: bool, tracking: str | None, yes: bool, at: str | None,
    zone: str | None, offline: bool, **said: Any,
) -> None:  # fmt: skip
    """Check when ENVELOPE would arrive, then record that it was shipped."""
    if offline:
        raise Malformed(
            "Readiness needs the ledger: record the shipment when there is a network.", code="needs-network"
        )
    typed = {"carrier": carrier, "service": service_name, "service_days": service_days, "tracking": tracking}
    if submit.finish(
        session,
        name_of(Shipped),
        [envelope],
        lambda data: all(data.get(n) == v for n, v in present(typed).items()),
    ):
        return
    duplicates.refuse_shipped(session, envelope)
    forecast = ("forecast_low_c", "forecast_high_c")
    prompts.settle(
        session,
        lambda: slips.temperatures(said, *forecast),
        prompts.typed_again(said, **dict.fromkeys(forecast, written.degrees_celsius)),
    )
    last, typed_of_courier = carriers.last_way(session), courier.taken(said)
    by_hand = by_hand or bool(typed_of_courier)
    if not by_hand:
        carrier = carriers.asked(session, carrier, last)
    carrier = carrier or carriers.BY_HAND
    by_hand = by_hand or carrier == carriers.BY_HAND
    service_name = service_name or (carriers.BY_HAND if by_hand else carriers.service(session, last))
    if service_days is None:
        service_days = 0 if by_hand else carriers.days(session, last)
    if prompts.may_ask(session) and not by_hand:
        tracking = tracking or prompts.answer(session, steps.TRACKING)
        tracking = tracking and as_read(session, "tracking", tracking, hand_over_slips.read_on_airbill)
        said["classified"] = said["classified"] or prompts.answer(session, steps.CLASSIFIED)
    zone = zone or time_zones.of_envelope(session, envelope)
    handed_over = time_order.when(
        session,
        name_of(Shipped),
        at,
        zone,
        lambda: time_order.before_shipping(session.service.get(f"/envelopes/{envelope}")),
    )
    who = courier.asked(session, typed_of_courier) if by_hand else {}
    expected = moment(session, who["expected"], zone).text() if "expected" in who else None
    asked = {
        "envelope": envelope,
        "carrier": carrier,
        "service": service_name,
        "service_days": service_days,
        "saturday": saturday,
        "by_hand": by_hand,
        "tracking": tracking,
        "handed_over": handed_over.text(),
        **present(said | {"expected_delivery": expected} | courier.facts(who)),
    }
    told = session.service.post("/readiness", {"act": name_of(Shipped), "data": asked})
    _require_ready(
        session,
        told,
        f"envelope {numbers.grouped(envelope)}",
        lambda: shipping_windows.say(told["window"] or {}, zone=zone, by_hand=by_hand),
        lambda: ask_anew(session, told, name_of(Shipped)),
    )
    private = courier.private(who)
    acts = [_as_asked(each, name_of(Shipped), asked, private) for each in told["statements"]]
    to = who.get("courier_name", "the person who carries it") if by_hand else f"{carrier}, {service_name}"
    _agree(
        session,
        told,
        yes,
        f"Ship {numbers.grouped(envelope)} with {to}, at {show.when(handed_over.text(), zone)}?",
    )
    _sign(session, acts)


def _begun(
    session: Session, envelope: str | None, samples: Sequence[str], *, anew: bool
) -> scans.Begun | None:
    """What was scanned before and is meant now: of the envelope named, of these samples, or whatever the
    person wants to go on with.
    """
    left = scans.begun(session, "seal")
    if anew:
        for each in left:
            if envelope in (None, each.about):
                scans.clear(session, "seal", each.about)
        return None
    if envelope:
        found = next((each for each in left if each.about == envelope), None)
    elif samples:
        found = next((each for each in left if not set(each.samples).isdisjoint(samples)), None)
    else:
        return next((each for each in left if scans.goes_on(session, "seal", each)), None)
    if found and not samples:
        scans.say(session, "seal", found)
    return found


def _scanned(
    session: Session,
    envelope: str,
    samples: Sequence[str],
    begun: scans.Begun | None,
    leave_out: Sequence[str],
    *,
    adds: bool,
) -> list[str]:
    """What lies in the envelope: as named, or scanned now on top of what was scanned before. Of an envelope
    that is named, `adds`: what is named besides is added to what was scanned.

    Kept with every scan.
    """
    if samples:
        earlier = begun.samples if begun and adds else ()
        named = [each for each in dict.fromkeys([*earlier, *samples]) if each not in leave_out]
        if earlier and not set(samples) <= set(earlier):
            layout.warn(f"Added to {len(earlier)} scanned before; --leave-out takes one out.")
        scans.keep(session, "seal", envelope, named, begun.besides if begun else {})
        for other in scans.begun(session, "seal"):
            if other.about != envelope and set(other.samples) <= set(named):
                scans.clear(session, "seal", other.about)  # its number was changed before it was sealed
        return named
    before = scans.without(session, "seal", begun, leave_out=leave_out) if begun else None
    if before is None:
        return scans.scanned(session, "seal", envelope)
    return scans.scanned(session, "seal", envelope, before.samples, besides=before.besides)


def _require_ready(
    session: Session,
    told: Mapping[str, Any],
    what: str,
    also: Callable[[], None] | None = None,
    mend: Callable[[], None] | None = None,
) -> None:
    """Show the verdict and what was found, then what `also` says; when it is not ready, `mend` it or end
    with 1.
    """
    if not session.json:
        show.readiness(told, what, before=session.shown)
        if also and told.get("window") not in session.shown:
            also()
        session.shown += [*told["findings"], told.get("window")]
    elif not told["ready"]:
        show.print_json(told)
    if not told["ready"]:
        if mend:
            mend()
        raise click.exceptions.Exit(1)


def _agree(session: Session, told: Mapping[str, Any], yes: bool, question: str) -> None:
    """Say what the warnings become, and ask: at a terminal with all that will be signed on one screen, which
    is shown last of all.
    """
    warnings = sum(f["severity"] == "warn" for f in told["findings"])
    if warnings:
        layout.warn(show.warned(warnings))
    session.was_asked = not yes
    if prompts.may_ask(session):
        forms = [each["sub"].removeprefix("form/") for each in told["statements"]]
        cache.see(session, forms, offline=False)
    if not (yes or prompts.may_ask(session)):
        piped.agree(question)


def _as_asked(
    told: Mapping[str, Any], act: str, same: Mapping[str, Any], private: Mapping[str, str] | None = None
) -> Act:
    """What was prepared, where it says what was asked, and beside it only what the ledger reckons and which
    samples are on that form.
    """
    data, row = told["data"], ROWS[act]
    added = set(data).difference(same, row.computed, row.facts.later, {"samples"})
    if (
        told["act"] != act
        or not told["sub"].startswith("form/")
        or added
        or any(data.get(n) != v for n, v in same.items())
    ):
        raise _prepared_otherwise()
    return Act(told["sub"], act, data, dict(private or {}))


def _prepared_otherwise() -> Broken:
    return Broken(
        "The service prepared something other than what you scanned and typed. Nothing was signed: call your"
        " administrator.",
        code="prepared-otherwise",
    )


def _sign(session: Session, acts: Sequence[Act]) -> None:
    submit.learn_heads(session, [each.chain for each in acts])
    submit.act(session, *acts)


def _manifest(session: Session, asked: Mapping[str, Any], acts: Sequence[Act]) -> None:
    if session.json:
        return
    rows = [
        (show.name(each.chain.removeprefix("form/")), show.name(s))
        for each in acts
        for s in each.data["samples"]
    ]
    show.table(
        f"Envelope {show.name(asked['envelope'])}, seal {show.name(asked['seal'])}:"
        f" {show.counted(len(rows), 'cassette')}",
        ["form", "sample"],
        rows,
    )
