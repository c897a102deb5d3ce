"""The laboratory decides: accepted, on hold, rejected; and in the end, disposed of. Its own numbers: one
after the other in the order of the scans, or each as it is named.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

import click

from bailee.asking import hand_over_slips, hand_over_steps
from bailee.domain import numbers
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import Disposed, LabNumbered
from bailee.domain.acts.table import ACCEPTED, ON_HOLD, REJECTED, name_of
from bailee.domain.facts import choices
from bailee.errors import Malformed, Refused, Unavailable, Unknown
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people import bench
from bailee_cli.signing import sending, submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, piped, prompts, show
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.done_times import done
from bailee_cli.terminal.options import (
    Number,
    act_options,
    anyway_option,
    moment,
    note_option,
    one_form_option,
    present,
    time_options,
    yes_option,
)
from bailee_cli.terminal.scanning import scan

_REASONS: Final = choices(form_acts.Decision, "reasons")


def _decision(name: str, act: str, says: str) -> click.Command:
    @click.command(name, cls=AskingCommand, help=says)
    @click.argument("numbers", nargs=-1, required=act != ACCEPTED, type=Number())
    @click.option("--reason", "reasons", multiple=True, type=click.Choice(_REASONS))
    @click.option("--called", help="When the sampling firm was called.")
    @click.option("--called-person", help="Who was called; never in the log.")
    @click.option("--answer", help="Their reply; never in the log.")
    @click.option("--qualified", is_flag=True, help="Results will be reported with a qualification.")
    @click.option(
        "--resample",
        type=click.Choice(["possible", "not_possible", "asked"]),
        help="Can a new sample be collected? Of rejected ones.",
    )
    @click.option(
        "--lab-number",
        "lab_numbers",
        multiple=True,
        metavar="SAMPLE=NUMBER",
        help="Your own number for a sample.",
    )
    @one_form_option
    @note_option
    @anyway_option
    @time_options
    @act_options
    @click.pass_obj
    def decide(
        session: Session,
        /,
        numbers: tuple[str, ...],
        form: str | None,
        at: str | None,
        zone: str | None,
        offline: bool,
        **said: Any,
    ) -> None:
        if not numbers and not (prompts.may_ask(session) and not offline):
            prompts.require(numbers=None)
        if not numbers:
            numbers = click.get_current_context().params["numbers"] = bench.in_order(session)
        if act != ACCEPTED and prompts.may_ask(session):
            _ask_why(session, act, said)
        groups = cache.by_form(session, numbers, form)
        own = own_numbers(said["lab_numbers"])
        seen = cache.see(session, groups, offline=offline)
        facts = {
            "at": done(session, act, at, zone).text(),
            "reasons": list(said["reasons"]),
            "called": moment(session, said["called"], zone).text() if said["called"] else None,
            "qualified": said["qualified"],
            "resample": said["resample"],
        }
        private = {name: said[name] for name in ("called_person", "answer", "note")}
        if not offline:
            asked = facts | {"samples": [s for samples in groups.values() for s in samples]}
            _require_received(session, act, present(asked))
        if act == ACCEPTED:
            _require_undecided(session, groups, seen, said["qualified"], own)
            groups = bench.chosen(session, groups, bench.say_open(session, groups, seen))
        acts = []
        for number, samples in groups.items():
            mine = {sample: own[sample] for sample in samples if sample in own}
            data = present(facts | {"samples": samples, "lab_numbers": mine or None})
            acts.append(Act(f"form/{number}", act, data, private))
        submit.act(session, *acts, offline=offline)

    return decide


def _ask_why(session: Session, act: str, said: dict[str, Any]) -> None:
    """The reasons, and of what is rejected whether a new sample can be had: asked where they are missing."""
    if not said["reasons"]:
        session.was_asked = True
        said["reasons"] = prompts.answer(session, hand_over_steps.REASONS)
    if act == REJECTED and said["resample"] is None:
        session.was_asked = True
        said["resample"] = prompts.answer(session, hand_over_steps.RESAMPLE)


def _require_undecided(
    session: Session, groups: Mapping[str, Sequence[str]], seen: Mapping[str, Mapping[str, Any]],
    qualified: bool, own: Mapping[str, str],
) -> None:  # fmt: skip
    """Ask back what is accepted already with nothing new to say of it; `--both` means it as well."""
    before = {
        each["sample"]: show.when(each["decisions"][-1]["at"], told["zone"])
        for told in seen.values()
        for each in told["samples"]
        if each["status"] == ACCEPTED
        and each["sample"] in groups[told["form"]]
        and each["decisions"][-1]["qualified"] == qualified
        and own.get(each["sample"]) in (None, each["lab_number"])
    }
    if not session.both:
        prompts.settle(session, lambda: hand_over_slips.accepted_already(before))


def _require_received(session: Session, act: str, data: dict[str, Any]) -> None:
    """Raise `Refused` ("blocked") when the ledger knows of no receipt to decide upon; what this device has
    signed is sent first. Without an answer nothing is stopped.
    """
    if session.outbox.unsettled("waiting"):
        sending.send(session, "waiting")
    try:
        told = session.service.post("/readiness", {"act": act, "data": data})
    except (Unavailable, Unknown):
        return
    stops = [each for each in told["findings"] if each["severity"] == "block"]
    if not stops:
        return
    if not session.json:
        show.findings(stops)
    raise Refused("Nothing was signed.", code="blocked", findings=stops)


_WHICH: Final = "NUMBERS are samples, forms (all samples on them) or envelopes (all in them)."
accept_command: Final = _decision("accept", ACCEPTED, f"Accept samples for analysis. {_WHICH}")
put_on_hold_command: Final = _decision(
    "put-on-hold", ON_HOLD, f"Put samples on hold until a question is answered. {_WHICH}"
)
reject_command: Final = _decision("reject", REJECTED, f"Reject samples, with the reasons. {_WHICH}")


@click.command("dispose", cls=AskingCommand)
@click.argument("numbers", nargs=-1, required=True, type=Number())
@click.option("--how", required=True, type=click.Choice(choices(form_acts.Disposed, "how")))
@one_form_option
@anyway_option
@time_options
@act_options
@click.pass_obj
def dispose_command(
    session: Session,
    numbers: tuple[str, ...],
    how: str,
    form: str | None,
    at: str | None,
    zone: str | None,
    offline: bool,
) -> None:
    """Record the end of custody. NUMBERS are samples, forms or envelopes."""
    groups = cache.by_form(session, numbers, form)
    seen = cache.see(session, groups, offline=offline)
    bench.say_open(session, groups, seen)
    when = done(session, name_of(Disposed), at, zone).text()
    if how != "archived":
        until = {
            each["sample"]: each["keep_until"]
            for told in seen.values()
            for each in told["samples"]
            if each.get("keep_until") and each["sample"] in groups[told["form"]]
        }
        prompts.settle(session, lambda: hand_over_slips.kept_longer(until, when[:10]))
    acts = [
        Act(f"form/{n}", name_of(Disposed), {"samples": samples, "how": how, "at": when})
        for n, samples in groups.items()
    ]
    submit.act(session, *acts, offline=offline)


@click.command("number", cls=AskingCommand)
@click.argument("samples", nargs=-1, type=Number("sample"))
@click.option("--from", "first", help="The first number, like 26-10412; the others follow it.")
@click.option(
    "--lab-number", "named", multiple=True, metavar="SAMPLE=NUMBER", help="A number of its own for a sample."
)
@one_form_option
@note_option
@yes_option
@time_options
@act_options
@click.pass_obj
def number_command(
    session: Session, /, samples: tuple[str, ...], first: str | None, named: tuple[str, ...],
    form: str | None, note: str | None, yes: bool, at: str | None, zone: str | None, offline: bool,
) -> None:  # fmt: skip
    """Give SAMPLES your laboratory's own numbers, from a first one on in the order of the scans.

    The list is shown before it is signed. A number given again replaces the one before it, which stays on
    record.
    """
    own = own_numbers(named)
    if not (samples or own):
        samples = tuple(scan("sample"))
        click.get_current_context().params["samples"] = samples
    if samples and first is None:
        first = prompts.answer(session, hand_over_steps.FIRST_NUMBER)
    own = dict(zip(samples, following(first, len(samples)), strict=True)) | own if first else own
    if not own:
        raise Malformed(
            "Nothing was scanned. Nothing was signed: scan or name samples.", code="nothing-scanned"
        )
    groups = cache.by_form(session, list(own), form)
    cache.see(session, groups, offline=offline)
    for sample, number in own.items():
        layout.line(f"{show.name(sample)} = {number}", err=session.json)
    session.was_asked = not yes
    if not (yes or prompts.may_ask(session)):
        piped.agree(f"Sign these {len(own)} numbers?")
    when = moment(session, at, zone).text()
    acts = []
    for each, mine in groups.items():
        data = {"numbers": {sample: own[sample] for sample in mine}, "at": when}
        acts.append(Act(f"form/{each}", name_of(LabNumbered), data, {"note": note}))
    submit.act(session, *acts, offline=offline)


def following(first: str, count: int) -> Iterator[str]:
    """So many numbers from a first one on: its last digits are counted up, with the zeros before them."""
    found = re.fullmatch(r"(.*?)([0-9]{1,12})", first.strip())
    if found is None:
        raise Malformed(
            f"{first!r} ends with no digit to count from: write one like 26-10412.", code="bad-lab-number"
        )
    before, digits = found.groups()
    return (f"{before}{int(digits) + more:0{len(digits)}d}" for more in range(count))


def own_numbers(given: Sequence[str]) -> dict[str, str]:
    """Numbers of the laboratory by sample, as they are typed. Raises `Malformed`."""
    found = {}
    for each in given:
        sample, is_there, own = each.partition("=")
        if not is_there or not own:
            raise Malformed(f"{each!r}: write --lab-number SAMPLE=NUMBER.", code="bad-lab-number")
        found[numbers.read(sample, "sample")] = own
    return found
