"""The inspector at the shelf: scan what is in the kit, and hear what is missing while it can still be
fetched.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Mapping, Sequence
from contextlib import nullcontext
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import Any, Final, Literal

import click

from bailee.asking import office_slips, written_times
from bailee.domain.moments import last_day
from bailee.errors import BaileeError, Unavailable, Unknown
from bailee.planning import pack_list, sampling_plan
from bailee.planning.sampling_plan import Place, Wishes
from bailee.presentation import words
from bailee.rules.checks import kit
from bailee.rules.checks.kit import Carried, Instrument, LotSeen
from bailee.rules.wording import day
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people.visit import before_the_visit
from bailee_cli.signing import lookups
from bailee_cli.signing import scans as desk
from bailee_cli.terminal import layout, prompts, show
from bailee_cli.terminal.options import Number, Written, at_a_terminal, json_option, present

Kind = Literal["pump", "meter"]
CARRIED: Final = "carried"
"""Under this name a device remembers pump and flow meter of the kit, with the day of its visit."""
KINDS: Final[tuple[Kind, ...]] = ("pump", "meter")


@click.command("kit")
@click.argument("samples", nargs=-1, type=Number("sample"))
@click.option("--visit", type=Written("day"), help="Day of the visit, like 2026-12-01.  [default: today]")
@click.option(
    "--plan",
    "plan_file",
    type=click.Path(dir_okay=False, path_type=Path),
    help="File of locations as for `bailee plan`.",
)
@click.option("--list", "lists", is_flag=True, help="Print what to pack, to tick off; nothing is scanned.")
@click.option("--pump", help="Number on the pump.")
@click.option("--meter", help="Number on the flow meter.")
@click.option(
    "--pump-valid-to",
    type=Written("last_day"),
    help="Last valid day on its certificate, if it is not in the ledger.",
)
@click.option(
    "--meter-valid-to",
    type=Written("last_day"),
    help="Last valid day on its certificate, if it is not in the ledger.",
)
@click.option("--offline", is_flag=True, help="Judge by what this device remembers.")
@desk.options
@json_option
@click.pass_obj
def kit_command(
    session: Session, samples: tuple[str, ...], visit: str | None, plan_file: Path | None, pump: str | None,
    meter: str | None, pump_valid_to: str | None, meter_valid_to: str | None, offline: bool,
    leave_out: tuple[str, ...], *, anew: bool, lists: bool,
) -> None:  # fmt: skip
    """Scan the cassettes, pump and flow meter of a kit: whether they last to the visit, are yours, and are
    enough.

    None given: you are asked to scan. Ends with 1 when the kit will not do, with 3 when something could not
    be checked, with 0 only when everything was seen and nothing stops it. Until then the scans are kept: the
    next `bailee kit` for that day goes on with them.
    """
    on = _planned(session, visit)
    valid_to: dict[str, date | None] = {
        "pump": _day(pump_valid_to),
        "meter": _day(meter_valid_to),
    }
    places, wishes = sampling_plan.read(before_the_visit.text_of(plan_file)) if plan_file else ([], Wishes())
    if lists:
        _list(session, places, wishes, offline=offline)
        return
    named: dict[str, str | None] = {"pump": pump, "meter": meter}
    with nullcontext() if samples else desk.surviving(session, "kit", on.isoformat()):
        if not samples:
            before = desk.again(session, "kit", on.isoformat(), leave_out=leave_out, anew=anew)
            kept = before.besides if before else {}
            named = {kind: said or _asked(kind, kept.get(kind)) for kind, said in named.items()}
            samples = tuple(
                desk.scanned(
                    session, "kit", on.isoformat(), before.samples if before else (), repeats=True,
                    besides=present(named),
                )
            )  # fmt: skip
        _judge(session, on, Counter(samples), named, valid_to, places, wishes, offline=offline)


def _planned(session: Session, visit: str | None) -> date:
    """For which day: today, or the one named; one that is over is asked back at a terminal."""
    today = session.now.astimezone().date()
    said = {"visit": visit or today.isoformat()}
    if prompts.may_ask(session):
        again = prompts.typed_again(said, visit=written_times.day)
        prompts.settle(session, lambda: office_slips.planned_day(said["visit"], today), again)
    return date.fromisoformat(said["visit"])


def _list(session: Session, places: Sequence[Place], wishes: Wishes, *, offline: bool) -> None:
    """What to pack, for so many cassettes as the plan wants."""
    limits = lookups.known(session, offline=offline)
    found = pack_list.pack(sampling_plan.plan(places, limits.policy, wishes).cassettes, limits.policy)
    if session.json:
        show.print_json({"thresholds": limits.whose, "pack": [asdict(each) for each in found]})
        return
    for each in found:
        count = f"{each.count} x " if each.count and each.count > 1 else ""
        show.say(f"{count}{each.what}", f"[ ] {each.group:<6}  ", " " * 12)
    show.say(f"Common practice, no source. Thresholds: {limits.whose}.")


def _judge(
    session: Session, on: date, scanned: Counter[str], named: Mapping[str, str | None],
    valid_to: Mapping[str, date | None], places: Sequence[Place], wishes: Wishes, *, offline: bool,
) -> None:  # fmt: skip
    """Say whether it will do. Ends the command with 1 or 3 unless it does."""
    look = _Look(session, on, offline=offline)
    limits = lookups.known(session, offline=offline)
    wanted = sampling_plan.plan(places, limits.policy, wishes).cassettes
    carried = [look.up(number, scans) for number, scans in scanned.items()]
    instruments = [
        look.instrument(kind, named[kind] or "", valid_to[kind])
        for kind in KINDS
        if named[kind] or valid_to[kind]
    ]
    found = kit.check(carried, instruments, on, wanted, limits.policy)
    look.remember()
    if not found.will_not_do:
        session.outbox.remember(CARRIED, {"visit": on.isoformat(), **present(named)})
    if session.json:
        counts = asdict(wanted) | {"total": wanted.total}
        show.print_json(
            {
                "visit": on.isoformat(),
                "wanted": counts,
                "thresholds": limits.whose,
                "will_do": _will_do(found),
                **asdict(found),
            }
        )
    else:
        _say(found, on, limits.whose)
    if not _will_do(found):
        raise click.exceptions.Exit(1 if found.will_not_do else 3)


class _Look:
    """Looks things up at the service for as long as it answers, and in the memory of this
    device after that.
    """

    def __init__(self, session: Session, on: date, *, offline: bool) -> None:
        self._session = session
        self._on = on
        self._online = not offline
        self._remembered: dict[str, Any] = session.outbox.recall("lots") or {}

    def up(self, number: str, scans: int) -> Carried:
        """What is known of one number."""
        told = self._ask(f"/samples/{number}")
        if told is None:
            return Carried(number, _lot(self._remembered.get(number)), scans, is_looked_up=False)
        issued = told.get("issued") or {}
        visit = date.fromisoformat(issued["visit"]) if issued.get("visit") else None
        return Carried(
            number,
            _lot(told.get("lot")),
            scans,
            is_used=told.get("form") is not None,
            is_mine=issued.get("yours"),
            visit=visit,
        )

    def instrument(self, kind: Kind, name: str, valid_to: date | None) -> Instrument:
        """Its certificate: as read from the paper, or as entered in the ledger."""
        if valid_to:
            why = f"was valid to {day(valid_to)}" if valid_to < self._on else ""
            return Instrument(kind, name or "without a number", why)
        told = self._ask("/certificate", kind=kind, id=name, on=self._on.isoformat())
        return Instrument(kind, name, told["expired"] if told else None)

    def remember(self) -> None:
        """Keep the lots for places without a network."""
        if self._online:
            try:
                cache.remember_lots(self._session)
            except BaileeError as error:
                layout.warn(f"Lots could not be looked up: {error.sentence}")

    def _ask(self, path: str, **query: str) -> dict[str, Any] | None:
        """What the service says: an empty answer when it knows nothing of it, None when it
        cannot be asked.
        """
        if not self._online:
            return None
        try:
            answer: dict[str, Any] = self._session.service.get(path, **query)
        except Unknown:
            return {} if path.startswith("/samples") else None
        except Unavailable as error:
            layout.warn(error.sentence)
            self._online = False
            return None
        return answer


def _lot(told: dict[str, Any] | None) -> LotSeen | None:
    if not told:
        return None
    expires = date.fromisoformat(told["expires"]) if told["expires"] else None
    return LotSeen(told["lot"], expires, bool(told["recalled"]), told.get("cassette") or "slit")


def _day(text: str | None) -> date | None:
    """A day; a month on a certificate means its last one."""
    return None if text is None else last_day(text)


def _asked(kind: str, before: str | None) -> str | None:
    what = words.of_field(kind)
    question = f"{what} (Enter: {before or 'none'})"
    if not at_a_terminal():
        if line := sys.stdin.readline():
            click.echo(f"{question}: {line.strip()}", err=True)
        return line.strip() or before or None
    return click.prompt(question, default=before or "", show_default=False, err=True).strip() or None


def _will_do(found: kit.KitAnswer) -> bool:
    return not found.will_not_do and not found.unchecked


def _say(found: kit.KitAnswer, on: date, whose: str) -> None:
    if found.will_not_do:
        show.say(f"KIT NOT READY for {day(on)}.", style="bold red")
    elif found.unchecked:
        show.say(f"Nothing found stops this kit for {day(on)}, but not everything was checked.", style="bold")
    else:
        show.say(f"Kit ready for {day(on)}: {found.told}.", style="bold")
    show.findings([asdict(each) for each in found.findings])
    for sentence in found.unchecked:
        show.say(sentence, f"{words.NOT_CHECKED.upper()}: ", "  ")
    show.say(f"Thresholds: {whose}.")
