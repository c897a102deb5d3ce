"""The laboratory sends a sample on to a second one: the same glass, a new number, a new seal, a second
receipt.

Copies that leave the house: which version of the custody record, or of a result, was given out.
"""

from __future__ import annotations

import secrets
from hashlib import sha256
from pathlib import Path
from typing import get_args

import click

from bailee.domain import numbers
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import Copied, Forwarded, Notified
from bailee.domain.acts.table import name_of
from bailee.domain.facts import choices
from bailee.errors import Malformed
from bailee.ledger.base64url import b64u
from bailee.presentation import words
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people.handing_over.counting import count_option, counts_by_hand
from bailee_cli.signing import lookups, submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import piped, show
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.options import (
    Number,
    Whole,
    act_options,
    anyway_option,
    moment,
    note_option,
    one_form_option,
    present,
    time_options,
)


@click.command("forward", cls=AskingCommand)
@click.argument("samples", nargs=-1, required=True, type=Number("sample"))
@click.option("--to", "to", required=True, help="Short name of the second laboratory.")
@click.option("--purpose", required=True, type=click.Choice(get_args(form_acts.Purpose)))
@click.option("--item", required=True, type=click.Choice(["cassette", "slide"]), help="What goes on.")
@click.option(
    "--condition",
    multiple=True,
    required=True,
    type=click.Choice(get_args(form_acts.SentOn)),
    help="As it is now.",
)
@click.option(
    "--child",
    "children",
    multiple=True,
    type=Number("sample"),
    help="New numbers from labels, in the order of SAMPLES.  [default: made here]",
)
@count_option
@one_form_option
@note_option
@anyway_option
@time_options
@act_options
@click.pass_obj
def forward_command(
    session: Session, samples: tuple[str, ...], to: str, purpose: str, item: str, condition: tuple[str, ...],
    children: tuple[str, ...], count: int | None, form: str | None, note: str | None, at: str | None,
    zone: str | None, offline: bool,
) -> None:  # fmt: skip
    """Send SAMPLES on to a second laboratory.

    A trace is not split: each goes on whole, under a new number that points to the old.

    Then label them, seal them with `bailee seal`, ship them with `bailee ship`; the second laboratory
    receives them with `bailee receive`. It sees custody and codes of the form, and no names, addresses or
    notes.
    """
    if children and len(children) != len(samples):
        raise Malformed("Enter one --child for every sample, or none.", code="children")
    fresh = children or tuple(numbers.issue("sample", secrets.choice) for _ in samples)
    new = dict(zip(samples, fresh, strict=True))
    lookups.require(session, to, offline=offline)
    groups = cache.by_form(session, samples, form)
    cache.see(session, groups, offline=offline)
    counts = counts_by_hand(session, groups, count)
    acts = [
        Act(
            f"form/{number}", name_of(Forwarded),
            present({
                "items": [
                    {"sample": s, "child": new[s], "item": item, "condition": list(condition)} for s in group
                ],
                "count": counts[number], "to": to, "purpose": purpose, "at": moment(session, at, zone).text(),
            }),
            {"note": note},
        )
        for number, group in groups.items()
    ]  # fmt: skip
    kept = submit.perform(session, acts, offline=offline)
    if not session.json:
        show.table(
            words.STEPS["forwarded"].capitalize(), ["sample", "new number"], [(s, new[s]) for s in samples]
        )
    submit.report(session, kept)


@click.command("copy", cls=AskingCommand)
@click.argument("form", type=Number("form"))
@click.option("--of", "of", required=True, type=click.Choice(choices(form_acts.Copied, "of")))
@click.option("--version", "version", required=True, type=Whole(1, 9_999))
@click.option("--reference", help="The reference of a result in your house.")
@click.option(
    "--file",
    "file",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="What was issued: its digest is signed, the file stays here.",
)
@click.option(
    "--entries",
    type=Whole(1),
    help="The newest entry the copy covers, as printed in its last section. [default: the newest there is]",
)
@click.option(
    "--reason", type=click.Choice(choices(form_acts.Copied, "reason")), help="Why it was issued again."
)
@note_option
@act_options
@click.pass_obj
def copy_command(
    session: Session, form: str, of: str, version: int, reference: str | None, file: Path | None,
    entries: int | None, reason: str | None, note: str | None, offline: bool,
) -> None:  # fmt: skip
    """Sign that a copy of the custody record of FORM, or a result, was issued as this version.

    The highest version counts and replaces those below it. When something is corrected later, `bailee check
    FORM` shows that it is out of date.
    """
    if offline and entries is None:
        raise Malformed(
            "Enter with --entries which is the newest entry the copy covers: without a network it cannot be"
            " looked up.",
            code="no-entries",
        )
    told = None if offline else cache.form(session, form)
    data = present(
        {
            "of": of,
            "version": version,
            "entries": entries or (told["length"] if told else None),
            "reference": reference,
            "file": b64u(sha256(file.read_bytes()).digest()) if file else None,
            "reason": reason,
        }
    )
    submit.act(session, Act(f"form/{form}", name_of(Copied), data, {"note": note}), offline=offline)


@click.command("notify", cls=AskingCommand)
@click.argument("number", metavar="FORM|LOT", type=Number())
@click.option("--of", "of", required=True, type=click.Choice(choices(form_acts.Notified, "of")))
@click.option("--about", help="Number of the lot, sample, envelope or form it is about. [default: LOT]")
@click.option("--to", "to", required=True, type=click.Choice(choices(form_acts.Notified, "to")))
@click.option("--org", help="Short name of the organization notified, if it has one here.")
@click.option("--how", required=True, type=click.Choice(choices(form_acts.Notified, "how")))
@click.option("--called-person", help="Who was notified; kept out of the log.")
@click.option("--answer", help="What they answered; kept out of the log.")
@note_option
@click.option("--yes", is_flag=True, help="Of a LOT: sign for all its forms without asking.")
@time_options
@act_options
@click.pass_obj
def notify_command(
    session: Session, number: str, of: str, about: str | None, to: str, org: str | None, how: str,
    called_person: str | None, answer: str | None, note: str | None, yes: bool, at: str | None,
    zone: str | None, offline: bool,
) -> None:  # fmt: skip
    """Enter that a person who has a copy of the custody record of FORM, or has to know, was notified.

    A recall after a copy was issued stays on the chase list until that is entered. Of a recalled LOT,
    lists every form that waits for such a notice, and enters it on all of them.
    """
    is_lot = numbers.kind_of(number) == "lot"
    about = about or (number if is_lot else None)
    if about is None or (is_lot and (about, of) != (number, "recall")):
        raise Malformed(
            "Name with --about what the notice is about. For a LOT only its recall can be entered, on all its"
            " forms.",
            code="no-about",
        )
    if org:
        lookups.require(session, org, offline=offline)
    when = moment(session, at, zone).text()
    private = {"called_person": called_person, "answer": answer, "note": note}
    data = present({"of": of, "about": about, "to": to, "org": org, "how": how, "at": when})
    forms = _waiting_for_notice(session, number, offline=offline) if is_lot else [number]
    if is_lot and not yes:
        which = f"on {show.counted(len(forms), 'form')}"
        piped.agree(f"Enter {which} that the {words.plain(to)} was notified ({how})?")
    acts = [Act(f"form/{form}", name_of(Notified), data, private) for form in forms]
    submit.act(session, *acts, offline=offline)


def _waiting_for_notice(session: Session, lot: str, *, offline: bool) -> list[str]:
    """The forms on which a notice of the recall of a lot is owed, listed. Raises `Malformed` for none."""
    if offline:
        raise Malformed(
            "Only the ledger knows which forms wait for a notice: run it with a network.",
            code="needs-network",
        )
    told = session.service.get("/chase")
    waiting = [
        each
        for each in told["items"]
        if any(act["act"] == name_of(Notified) and act.get("about") == lot for act in each["acts"])
    ]
    if not waiting:
        raise Malformed(
            f"No form waits for a notice about lot {numbers.grouped(lot)}: it was not recalled after a copy"
            " was issued, or the holders of each copy were notified.",
            code="nobody-to-notify",
        )
    if not session.json:
        show.say(f"{show.counted(len(waiting), 'form')} of lot {numbers.grouped(lot)}", style="bold")
        for each in waiting:
            show.say(each["sentence"], "  ", "    ")
        if told["left_out"]:
            show.say(f"{show.counted(told['left_out'], 'open form')} more were not read.", "  ")
    return [each["about"] for each in waiting]
