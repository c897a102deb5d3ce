"""The shipping clerk closes an envelope: what is scanned into it, what is missing, its seal."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import click

from bailee.asking import hand_over_slips, hand_over_steps
from bailee.asking.question import Ask
from bailee.domain import numbers
from bailee.domain.acts.form import Sealed
from bailee.domain.acts.table import name_of
from bailee.errors import BaileeError, Malformed
from bailee_cli.device.session import Session
from bailee_cli.people.envelopes.as_prepared import (
    agree,
    as_asked,
    prepared_otherwise,
    require_as_shown,
    require_policies,
    require_ready,
    sign,
)
from bailee_cli.people.printing import prints
from bailee_cli.signing import duplicates, pictures, scans, submit, time_order
from bailee_cli.signing.answered import KeptAnswers, ask_anew, counted_again
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, prompts, show, time_zones, yes_no
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.options import (
    Number,
    Whole,
    act_options,
    present,
    time_options,
    yes_option,
)


@click.command("seal", cls=AskingCommand)
@click.argument("samples", nargs=-1, type=Number("sample"))
@click.option(
    "--envelope", type=Number("envelope"), help="Number of the envelope.  [default: as printed for --seal]"
)
@click.option("--seal", "seal", help="Number printed on the custody seal.  [default: asked]")
@click.option("--counted", "total", type=Whole(0), help="Samples counted. [default: asked]")
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
    printed = None if envelope or begun else prints.enclosed_in(session, said["seal"])
    number = envelope or (begun.about if begun else printed or numbers.issue("envelope", secrets.choice))
    if envelope or begun or printed:
        duplicates.refuse_sealed(session, number)
    with scans.surviving(session, "seal", lambda: said.get("envelope", number)):
        scanned = list(
            scans.require(
                _scanned(
                    session, number, samples, begun, leave_out, adds=bool(envelope), counted=said["total"]
                )
            )
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
        _seal(session, said, zone=zone, yes=yes, is_named=bool(envelope))


def _seal(session: Session, said: dict[str, Any], *, zone: str | None, yes: bool, is_named: bool) -> None:
    """Ask for what was not said, then whether it may be; `said` is what the statement will say, by the names
    of its members.
    """
    answers = KeptAnswers(session, "seal", said["envelope"], scans.of(session, "seal", said["envelope"]))
    ask = answers.to if prompts.may_ask(session) else partial(prompts.answer, session)
    said["total"] = _counted(session, said["total"], said["samples"], answers, ask)
    click.get_current_context().params["samples"] = tuple(said["samples"])
    said["seal"] = numbers.read_seal(said["seal"] or ask(hand_over_steps.SEAL_NUMBER))
    if prompts.may_ask(session):
        answers.about(_as_enclosed(session, said, is_named=is_named))
    is_typed = None not in (said["across_opening"], said["record_enclosed"])
    for member, question in (
        ("across_opening", hand_over_steps.ACROSS),
        ("record_enclosed", hand_over_steps.ENCLOSED),
    ):
        if said[member] is None:
            said[member] = ask(question) == "yes"
    if said["containers"] is None and not is_typed and prompts.may_ask(session):
        said["containers"] = ask(hand_over_steps.CONTAINERS)
    said["photo"] = pictures.digest(said["photo"]) if said["photo"] else None
    asked, envelope, scanned = present(said), said["envelope"], said["samples"]
    told = session.service.post("/readiness", {"act": name_of(Sealed), "data": asked})
    require_ready(
        session,
        told,
        f"envelope {numbers.grouped(envelope)}",
        mend=lambda: ask_anew(session, told, name_of(Sealed), answers),
    )
    same = {name: value for name, value in asked.items() if name != "samples"}
    acts = [as_asked(each, name_of(Sealed), same) for each in told["statements"]]
    if sorted(s for each in acts for s in each.data["samples"]) != sorted(scanned):
        raise prepared_otherwise()
    require_as_shown(told, acts)
    require_policies(session, acts)
    agree(
        session,
        told,
        yes,
        f"Seal {show.counted(len(scanned), 'sample')} into {numbers.grouped(envelope)} with seal"
        f" {show.name(asked['seal'])} at {show.when(asked['at'], zone)}?",
    )
    sign(session, acts)
    _manifest(session, asked, acts)


def _as_enclosed(session: Session, said: dict[str, Any], *, is_named: bool) -> str:
    """The envelope that the record printed for this seal names, where none is named; another one is asked
    back.
    """
    found = {"envelope": said["envelope"]}
    printed = prints.enclosed_in(session, said["seal"])

    def again(text: str) -> None:
        found["envelope"] = numbers.read(text, "envelope")

    if printed and not is_named:
        found["envelope"] = printed
    prompts.settle(
        session,
        lambda: hand_over_slips.enclosed_in(found["envelope"], said["seal"], printed),
        {"envelope": again},
    )
    if found["envelope"] != said["envelope"]:
        duplicates.refuse_sealed(session, found["envelope"])
        layout.warn(
            f"Envelope {numbers.grouped(found['envelope'])}: the record printed for this seal names it."
        )
        said["envelope"] = click.get_current_context().params["envelope"] = found["envelope"]
    return str(found["envelope"])


def _counted(
    session: Session, typed: int | None, scanned: list[str], answers: KeptAnswers, ask: Callable[[Ask], Any]
) -> int:
    """Samples counted by hand. One that is not how many were scanned is asked back at a terminal before
    anything else is asked; elsewhere it is judged with the rest.
    """
    if answers.kept.get(f"{scans.ANSWERED}{hand_over_steps.COUNTED.member}") != str(len(scanned)):
        answers.drop(hand_over_steps.COUNTED.member)
    counted = ask(hand_over_steps.COUNTED) if typed is None else typed
    return counted_again(
        session, counted, scanned, answers, member="total", fits=partial(_require_to_go, session)
    )


def _require_to_go(session: Session, sample: str) -> None:
    """Raise `Malformed` for one more that has no business in an envelope."""
    if why := _not_to_go(session, sample):
        raise Malformed(f"{numbers.grouped(sample)} {why}. It was not added.", code="not-to-go")


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
    counted: int | None,
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
    besides = before.besides if before else None
    return scans.scanned(
        session, "seal", envelope, before.samples if before else (), besides=besides,
        count=hand_over_steps.COUNTED, counted=counted,
    )  # fmt: skip


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
        f" {show.counted(len(rows), 'sample')}",
        ["form", "sample"],
        rows,
    )
