"""The receiving dock: what should be in the envelope, what is, in which condition.

The seal on record and the list of contents are compared and shown only after the seal was read and the
cassettes were scanned and counted, so that they are read and counted, not confirmed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import Any, Literal, get_args

import click

from bailee.asking import hand_over_slips, hand_over_steps, unit_slips, written
from bailee.asking.slip import Slip
from bailee.domain import numbers
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import Received
from bailee.domain.acts.table import name_of
from bailee.domain.facts import choices
from bailee.errors import BaileeError, Malformed
from bailee.presentation import words
from bailee.presentation.words import NONE
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people import bench, on_its_way
from bailee_cli.people.handing_over.counting import each_is_intact
from bailee_cli.signing import duplicates, lookups, scans, submit, time_order
from bailee_cli.signing.answered import KeptAnswers, containers_differ, counted_again, seal_as_read
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, piped, prompts, show
from bailee_cli.terminal.command_kinds import AskingCommand
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
)
from bailee_cli.terminal.scanning import scan

_SEAL_STATES = choices(form_acts.Dock, "seal_state")
_PACKAGE = get_args(form_acts.Package)
_UNDAMAGED = ("intact", "sound", "not_looked_at")


@click.command("receive", cls=AskingCommand)
@click.argument("envelope", type=Number("envelope"), required=False)
@click.argument("cassettes", nargs=-1)
@click.option("--seal", "seal", help='Number read on the seal, or "none".  [default: asked]')
@click.option("--seal-state", type=click.Choice(_SEAL_STATES), help="[default: asked]")
@click.option("--package", multiple=True, type=click.Choice(_PACKAGE), help="[default: asked]")
@click.option("--counted", type=Whole(0), help="Samples counted by hand.  [default: asked]")
@click.option(
    "--all-intact",
    is_flag=True,
    help="Each of CASSETTES was looked at and is intact.  [default: each is asked]",
)
@click.option("--delivered", help="When the carrier brought it, if that is known.")
@click.option(
    "--record-enclosed/--no-record-enclosed",
    default=None,
    help="Is the custody record enclosed? [default: asked]",
)
@click.option("--record-pages", type=Whole(0), help="Pages of the custody record inside.")
@click.option("--containers", type=Whole(0), help="Bags or boxes, if you counted them.")
@click.option("--closed-again", help="When you closed the envelope again, if you did.")
@click.option("--closed-again-seal", help="Number of your own seal on it.")
@click.option(
    "--found",
    type=click.Choice(choices(form_acts.FoundAt, "where")),
    help="Where it was, of a cassette that was not there at the first opening.",
)
@click.option("--found-in", type=Number("envelope"), help="The other envelope in which it was found.")
@click.option(
    "--temperature",
    "temperature_c",
    type=Written("degrees_celsius"),
    help="Inside on opening, degrees Celsius.",
)
@click.option(
    "--form",
    "form",
    type=Number("form"),
    help="A form inside: needed with --offline, and where several sampling firms used one number.",
)
@note_option
@click.option("--yes", is_flag=True, help="Sign without asking once more.")
@anyway_option
@scans.options
@time_options
@act_options
@click.pass_obj
def receive_command(
    session: Session, /, envelope: str | None, cassettes: tuple[str, ...], form: str | None, note: str | None,
    yes: bool, at: str | None, zone: str | None, offline: bool, leave_out: tuple[str, ...], anew: bool,
    **said: Any,
) -> None:  # fmt: skip
    """Open ENVELOPE at the dock.

    CASSETTES are the numbers read on them. What is not given you are asked to scan.

    A broken seal, a missing or an extra cassette is recorded as it is, never refused.
    """
    envelope = envelope or _scanned_label(session, offline=offline)
    if submit.finish(
        session, name_of(Received), [envelope], lambda data: _is_what_was_read(data, cassettes, said)
    ):
        return
    if offline and not form:
        raise Malformed("Without a network, enter which form is inside, with --form.", code="no-form")
    named = _read_cassettes(cassettes) if cassettes else None
    told = None if offline else _told(session, envelope, form, named and named[0])
    if told:
        duplicates.refuse_received(session, told, [_tidy(text, "sample") for text in cassettes])
        on_its_way.settle(session, told)
    session.was_asked = not yes
    with scans.surviving(session, "receive", envelope):
        before = _begun(session, envelope, leave_out, named and named[0], anew=anew)
        answers = KeptAnswers(session, "receive", envelope, before)
        applied = told["seal"] if told and not told["received"] else None
        containers = told["containers"] if told and not told["received"] else None
        dock = _look_at_package(session, said, answers, applied, containers)
        earlier = before.samples if before else ()
        found, foreign = named or (answers.scan(earlier, hand_over_steps.COUNTED, said["counted"]), [])
        if told and not named and (meant := _told(session, envelope, form, found))["forms"] != told["forms"]:
            told = meant
            duplicates.refuse_received(session, told, found)
        intact = said["all_intact"]
        if intact and named is None:  # typed before the first of them was scanned
            many = show.counted(len(found), "sample scanned", "samples scanned")
            intact = each_is_intact(many, "cassettes")
        on_forms = _on_forms(session, told) if told else {form or "": {}}
        counts = partial(_counted, session, said["counted"], found, foreign, answers)
        counted = counts() if prompts.may_ask(session) else None
        conditions = {s: ["intact"] if intact else _condition(answers, s, on_forms) for s in found}
        params = click.get_current_context().params
        params |= {"envelope": envelope, "cassettes": (*found, *foreign), "leave_out": (), "anew": False}
        counted = counts() if counted is None else counted
        parts = _parts({number: list(each) for number, each in on_forms.items()}, found)
        strangers = foreign + [s for s in found if not any(s in part for part in parts.values())]
        dock |= {"envelope": envelope, "total": counted, "extra": strangers}
        dock |= present(
            {
                "delivered": moment(session, said["delivered"], zone).text() if said["delivered"] else None,
                "record_pages": said["record_pages"],
                "containers": said["containers"],
                "temperature_c": said["temperature_c"],
                "closed_again": _closed_again(session, said, zone),
            }
        )
        if told:
            _should_be_inside(session, told)
            differences = [
                *on_its_way.differences(session, told),
                *_differences(told, dock, found, strangers),
                *_damage(dock, conditions),
            ]
            session.differs = bool(differences)
            layout.line("Discrepancies: " + (" ".join(differences) or "none."), err=session.json)
        if not (yes or prompts.may_ask(session)):
            piped.agree(f"Sign that {counted} cassettes were received?")
        when = time_order.when(
            session, name_of(Received), at, zone, lambda: time_order.before_the_dock(told)
        ).text()
        acts = []
        for number, part in parts.items():
            items = [{"sample": s, "condition": conditions[s]} for s in part]
            data = {"items": items, "count": len(part), "at": when, "dock": dock} | _found_at(said)
            acts.append(Act(f"form/{number}", name_of(Received), data, {"note": note}))
        submit.act(session, *acts, offline=offline)


def _scanned_label(session: Session, *, offline: bool) -> str:
    """The envelope on the bench, once what is expected was listed.

    Raises `Malformed` when none was scanned.
    """
    if not offline and prompts.may_ask(session):
        bench.say_expected(session)
    envelope = next(scan("envelope"), None)
    if envelope is None:
        raise Malformed("No envelope was scanned: scan the label on it.", code="nothing-scanned")
    return envelope


def _warmth_slips(session: Session, said: Mapping[str, Any]) -> list[Slip]:
    """Which unit is meant is asked at a terminal; elsewhere what may be so is believed."""
    either = hand_over_slips.of_either_unit(said, "temperature_c") if prompts.may_ask(session) else ()
    return list(either) or list(unit_slips.temperatures(said, "temperature_c"))


def _warmth(session: Session, said: dict[str, Any], answers: KeptAnswers, text: str) -> None:
    """Another temperature in the place of the one typed or answered, also when the command runs anew. One
    with its unit is meant.
    """
    said["temperature_c"] = warmth = written.degrees_celsius(text)
    params = click.get_current_context().params
    if params.get("temperature_c") is None:
        answers.put(hand_over_steps.TEMPERATURE, warmth)
    else:
        params["temperature_c"] = warmth
    if text.strip()[-1:].upper() in ("C", "F"):
        slips_of_it = hand_over_slips.of_either_unit(said, "temperature_c")
        session.stands |= {(each.code, each.field, each.said) for each in slips_of_it}


def _told(session: Session, envelope: str, form: str | None, inside: Sequence[str] | None) -> dict[str, Any]:
    """The envelope on record.

    Where several senders used its number it is the one with that form, or with the cassettes read inside.
    """
    if form:
        told = session.service.get(f"/envelopes/{envelope}", form=form)
    elif inside is not None:
        told = session.service.get(f"/envelopes/{envelope}", samples=",".join(inside))
    else:
        told = session.service.get(f"/envelopes/{envelope}")
    return dict(told)


def _should_be_inside(session: Session, told: Mapping[str, Any]) -> None:
    if not session.json:
        rows = [(show.name(each),) for each in told["samples"]]
        show.table(f"Should be inside {show.name(told['envelope'])}", ["sample"], rows)


def _counted(
    session: Session, typed: int | None, read: list[str], foreign: Sequence[str], answers: KeptAnswers
) -> int:
    """Samples counted by hand: at a terminal asked, and asked back, before each is looked at."""
    counted = answers.to(hand_over_steps.COUNTED) if typed is None else typed
    return counted_again(session, counted, read, answers, member="counted", besides=foreign)


def _condition(answers: KeptAnswers, sample: str, on_forms: Mapping[str, Mapping[str, str | None]]) -> Any:
    """The condition of one sample, as answered: what it can be in depends on what it is."""
    medium = next((each[sample] for each in on_forms.values() if sample in each), None)
    return answers.to(hand_over_steps.condition(numbers.grouped(sample), medium))


def _on_forms(session: Session, told: Mapping[str, Any]) -> dict[str, dict[str, str | None]]:
    """Every sample of every form in the envelope, and its medium if it is of a surface: a cassette in the
    wrong envelope still belongs to its form.
    """
    return {
        number: {s["sample"]: s["medium"] for s in cache.form(session, number)["samples"]}
        for number in told["forms"]
    }


def _look_at_package(
    session: Session, said: dict[str, Any], answers: KeptAnswers, applied: str | None, containers: int | None
) -> dict[str, Any]:
    """Package, how many bags or boxes where their number is on record, seal as read, its state, the record,
    how warm it is: as typed, or asked, in this order.

    What is surely a slip is asked back at once.
    """
    package = list(said["package"]) or answers.to(hand_over_steps.PACKAGE)
    if said["containers"] is None and containers is not None and prompts.may_ask(session):
        said["containers"] = answers.to(hand_over_steps.CONTAINERS)
    seal = seal_as_read(session, said["seal"] or answers.to(hand_over_steps.SEAL_READ), applied)
    if said["seal"] is None:
        answers.put(hand_over_steps.SEAL_READ, seal)
    missing = str(seal).strip().lower() == "none"
    state = "missing" if missing else said["seal_state"] or answers.to(hand_over_steps.SEAL_STATE)
    enclosed = said["record_enclosed"]
    if enclosed is None:
        enclosed = answers.to(hand_over_steps.RECORD_INSIDE) == "yes"
    is_wanted = prompts.may_ask(session) and lookups.known(session, offline=False).policy.temperature_wanted
    if said["temperature_c"] is None and is_wanted:
        said["temperature_c"] = answers.to(hand_over_steps.TEMPERATURE)
    prompts.settle(
        session,
        lambda: _warmth_slips(session, said),
        {"temperature_c": partial(_warmth, session, said, answers)},
    )
    return {
        "package": package,
        "seal": None if missing else str(seal).strip().upper(),
        "seal_state": state,
        "record_enclosed": enclosed,
    }


def _closed_again(session: Session, said: Mapping[str, Any], zone: str | None) -> dict[str, Any] | None:
    """How the dock shut the envelope again; None when it does not say so."""
    seal, at = said["closed_again_seal"], said["closed_again"]
    if not (seal or at):
        return None
    return present({"seal": seal and _tidy(seal), "at": moment(session, at, zone).text()})


def _found_at(said: Mapping[str, Any]) -> dict[str, Any]:
    """Where a cassette was that came to light later; nothing when it does not say so."""
    other = said["found_in"]
    where = said["found"] or ("other_envelope" if other else None)
    return {"found": present({"where": where, "other": other})} if where else {}


def _is_what_was_read(data: Mapping[str, Any], cassettes: Sequence[str], said: Mapping[str, Any]) -> bool:
    """Whether what is typed now, as far as it is, is what a statement says."""
    dock = data["dock"]
    named = {*(item["sample"] for item in data["items"]), *dock["extra"]}
    seal = dock["seal"] or "none"
    typed = {
        "seal_state": dock["seal_state"],
        "counted": dock["total"],
        "temperature_c": dock.get("temperature_c"),
        "containers": dock.get("containers"),
    }
    return (
        (not cassettes or named == {_tidy(text, "sample") for text in cassettes})
        and (said["seal"] is None or _tidy(said["seal"]) == _tidy(seal) or said["seal"].lower() == seal)
        and all(said[name] in (None, value) for name, value in typed.items())
    )


def _begun(
    session: Session, envelope: str, leave_out: Sequence[str], named: Sequence[str] | None, *, anew: bool
) -> scans.Begun | None:
    """What was scanned and answered before, which is shown where no cassettes are `named`; those are kept
    with it, also when the command runs anew.
    """
    before = scans.of(session, "receive", envelope)
    if before and not anew and named is None:
        scans.say(session, "receive", before)
    if before:
        before = scans.without(session, "receive", before, leave_out=leave_out, anew=anew)
    if named is None:
        return before
    samples = dict.fromkeys((*(before.samples if before else ()), *named))
    return scans.Begun(envelope, tuple(samples), "", before.besides if before else {})


def _read_cassettes(given: Sequence[str]) -> tuple[list[str], list[str]]:
    """Sample numbers, and whatever else was read on a cassette, which is recorded as it stands."""
    found, foreign = [], []
    for text in dict.fromkeys(given):
        try:
            found.append(numbers.read(text, "sample"))
        except BaileeError as error:
            if error.code == "wrong-check-character":
                raise  # a slip of the finger, not somebody else's number
            foreign.append(text)
    return list(dict.fromkeys(found)), foreign


def _parts(on_form: Mapping[str, Sequence[str]], found: Sequence[str]) -> dict[str, list[str]]:
    if len(on_form) == 1 and not any(on_form.values()):
        return {number: list(found) for number in on_form}
    return {number: [s for s in found if s in samples] for number, samples in on_form.items()}


def _damage(dock: Mapping[str, Any], conditions: Mapping[str, Sequence[str]]) -> Iterator[str]:
    """What was damaged on receipt, as it was entered."""
    for name, codes in [
        (words.Heading.PACKAGE, dock["package"]),
        *((show.name(s), conditions[s]) for s in conditions),
    ]:
        if damaged := [words.plain(code) for code in codes if code not in _UNDAMAGED]:
            yield f"{name}: {', '.join(damaged)}."


def _differences(
    told: Mapping[str, Any], dock: Mapping[str, Any], found: Sequence[str], strangers: Sequence[str]
) -> list[str]:
    """What is not as it should be: at the first opening by the seal of the journey and its list, at a later
    one by the seal with which the dock closed the envelope again, if it has a number.
    """
    said = []
    before = told["received"]
    seal = ((before["dock"].get("closed_again") or {}).get("seal") if before else told["seal"]) or None
    expected = [] if before else told["samples"]
    missing = [s for s in expected if s not in found]
    unexpected = [s for s in found if s not in told["samples"] and s not in strangers]
    if dock["seal"] is None and seal:
        said.append(f"No seal; {show.name(seal)} is on record.")
    elif dock["seal"] and (seal or not before) and seal != _tidy(dock["seal"]):
        said.append(f"The seal reads {show.name(dock['seal'])}; {show.name(seal or NONE)} is on record.")
    if dock["seal_state"] not in ("intact", "missing"):
        said.append(f"The seal is {words.SEAL_STATES[dock['seal_state']]}.")
    said += filter(None, [containers_differ(dock.get("containers"), None if before else told["containers"])])
    if not before and dock["total"] != len(told["samples"]):
        said.append(f"{dock['total']} counted; {len(told['samples'])} on record.")
    read = len({*found, *strangers})
    if dock["total"] != read:
        said.append(f"{dock['total']} counted; {read} scanned.")
    if missing:
        said.append(f"Not inside: {', '.join(map(show.name, missing))}.")
    if unexpected:
        said.append(f"Inside, and not on the manifest: {', '.join(map(show.name, unexpected))}.")
    if strangers:
        said.append(f"On none of these forms: {', '.join(map(show.name, strangers))}.")
    if not dock["record_enclosed"]:
        said.append("No custody record enclosed.")
    return said


def _tidy(text: str, kind: Literal["seal", "sample"] = "seal") -> str:
    """A number as read, spelled as it would have been recorded."""
    try:
        return numbers.read_seal(text) if kind == "seal" else numbers.read(text, "sample")
    except BaileeError:
        return text
