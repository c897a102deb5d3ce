"""The receiving dock: what should be in the envelope, what is, in which condition.

The seal on record is compared and shown only after the seal as read was typed, so that it is read and not confirmed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Literal

import click

from bailee.domain import numbers
from bailee.domain.acts import form as form_acts
from bailee.domain.facts import choices
from bailee.errors import BaileeError, Malformed
from bailee_cli import acting, desk, reading, show, standing
from bailee_cli.acting import Act
from bailee_cli.holding import ask_condition
from bailee_cli.options import Number, Whole, act_options, moment, present, scan, time_options
from bailee_cli.session import Session

_SEAL_STATES = choices(form_acts.Dock, "seal_state")
_PACKAGE = ("sound", "wet", "crushed", "torn", "opened")


@click.command("receive")
@click.argument("envelope", type=Number("envelope"), required=False)
@click.argument("cassettes", nargs=-1)
@click.option("--seal", "seal", help='Number read on the seal, or "none".  [default: asked]')
@click.option("--seal-state", type=click.Choice(_SEAL_STATES), help="[default: asked]")
@click.option("--package", multiple=True, type=click.Choice(_PACKAGE), help="[default: asked]")
@click.option("--counted", type=Whole(0), help="Cassettes counted by hand.  [default: asked]")
@click.option("--all-intact", is_flag=True, help="Every cassette scanned is intact; otherwise each is asked.")
@click.option("--delivered", help="When the carrier brought it, if that is known.")
@click.option(
    "--record-enclosed/--no-record-enclosed",
    default=None,
    help="Is the custody record inside?  [default: asked]",
)
@click.option("--record-pages", type=Whole(0), help="Pages of the custody record inside.")
@click.option("--temperature", "temperature_c", help="Inside on opening, degrees Celsius.")
@click.option(
    "--form",
    "form",
    type=Number("form"),
    help="A form inside: needed with --offline, and where several senders used one number.",
)
@click.option("--note", help="Free text; kept out of the log.")
@click.option("--yes", is_flag=True, help="Sign without asking once more.")
@desk.options
@time_options
@act_options
@click.pass_obj
def receive_command(
    session: Session, /, envelope: str | None, cassettes: tuple[str, ...], form: str | None, note: str | None, yes: bool,
    at: str | None, zone: str | None, offline: bool, leave_out: tuple[str, ...], anew: bool, **said: Any,
) -> None:  # fmt: skip
    """Open ENVELOPE at the dock. CASSETTES are the numbers read on them. What is not given you are asked to scan.

    A broken seal, a missing or an extra cassette is recorded as it is, never refused.
    """
    envelope = envelope or next(scan("envelope"), None)
    if envelope is None:
        raise Malformed("No envelope was scanned: scan the label on it.", code="nothing-scanned")
    if acting.finish(session, "received", [envelope], lambda data: _is_what_was_read(data, cassettes, said)):
        return
    if offline and not form:
        raise Malformed("Without a network, say which form is inside, with --form.", code="no-form")
    named = _read_cassettes(cassettes) if cassettes else None
    told = None if offline else _told(session, envelope, form, named and named[0])
    if told:
        standing.refuse_received(session, told, [_tidy(text, "sample") for text in cassettes])
        _should_be_inside(session, told)
    with desk.surviving(session, "receive", envelope):
        dock = _look_at_package(said)
        found, foreign = named or (_scanned(session, envelope, leave_out, anew=anew), [])
        if told and not named and (meant := _told(session, envelope, form, found))["forms"] != told["forms"]:
            told = meant
            standing.refuse_received(session, told, found)
            _should_be_inside(session, told)
        conditions = {s: ["intact"] if said["all_intact"] else ask_condition(s) for s in found}
        counted = said["counted"]
        if counted is None:
            counted = click.prompt("Cassettes counted by hand", type=Whole(0), err=True)
        parts = _parts(_by_form(session, told) if told else {form or "": []}, found)
        strangers = foreign + [s for s in found if not any(s in part for part in parts.values())]
        dock |= {"envelope": envelope, "total": counted, "extra": strangers}
        dock |= present(
            {
                "delivered": moment(session, said["delivered"], zone).text() if said["delivered"] else None,
                "record_pages": said["record_pages"],
                "temperature_c": said["temperature_c"],
            }
        )
        if told:
            differences = _differences(told, dock, found, strangers)
            click.echo("Differences: " + (" ".join(differences) or "none."), err=session.json)
        if not yes:
            click.confirm(f"Sign that {counted} cassettes were received?", abort=True, err=True)
        when = moment(session, at, zone).text()
        acts = []
        for number, part in parts.items():
            items = [{"sample": s, "condition": conditions[s]} for s in part]
            data = {"items": items, "count": len(part), "at": when, "dock": dock}
            acts.append(Act(f"form/{number}", "received", data, {"note": note}))
        acting.act(session, *acts, offline=offline)


def _told(session: Session, envelope: str, form: str | None, inside: Sequence[str] | None) -> dict[str, Any]:
    """The envelope on record. Where several senders used its number it is the one with that form, or with the cassettes read inside."""
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


def _by_form(session: Session, told: Mapping[str, Any]) -> dict[str, list[str]]:
    """Every sample of every form in the envelope: a cassette in the wrong envelope still belongs to its form."""
    return {
        number: [s["sample"] for s in reading.form(session, number)["samples"]] for number in told["forms"]
    }


def _look_at_package(said: Mapping[str, Any]) -> dict[str, Any]:
    package = list(said["package"]) or [
        click.prompt("Package", type=click.Choice(_PACKAGE), default="sound", err=True)
    ]
    seal = said["seal"] or click.prompt('Number as read on the seal ("none" if there is none)', err=True)
    missing = str(seal).strip().lower() == "none"
    state = "missing" if missing else said["seal_state"]
    enclosed = said["record_enclosed"]
    return {
        "package": package,
        "seal": None if missing else str(seal).strip().upper(),
        "seal_state": state or click.prompt("Seal", type=click.Choice(_SEAL_STATES), err=True),
        "record_enclosed": click.confirm("Is the custody record inside?", err=True)
        if enclosed is None
        else enclosed,
    }


def _is_what_was_read(data: Mapping[str, Any], cassettes: Sequence[str], said: Mapping[str, Any]) -> bool:
    """Whether what is typed now, as far as it is, is what a statement says."""
    dock = data["dock"]
    named = {*(item["sample"] for item in data["items"]), *dock["extra"]}
    seal = dock["seal"] or "none"
    typed = {
        "seal_state": dock["seal_state"],
        "counted": dock["total"],
        "temperature_c": dock.get("temperature_c"),
    }
    return (
        (not cassettes or named == {_tidy(text, "sample") for text in cassettes})
        and (said["seal"] is None or _tidy(said["seal"]) == _tidy(seal) or said["seal"].lower() == seal)
        and all(said[name] in (None, value) for name, value in typed.items())
    )


def _scanned(session: Session, envelope: str, leave_out: Sequence[str], *, anew: bool) -> list[str]:
    """What was scanned before, which is shown, and what is scanned now."""
    before = desk.of(session, "receive", envelope)
    if before and not anew:
        desk.say(session, "receive", before)
    if before:
        before = desk.without(session, "receive", before, leave_out=leave_out, anew=anew)
    return desk.scanned(session, "receive", envelope, before.samples if before else ())


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


def _differences(
    told: Mapping[str, Any], dock: Mapping[str, Any], found: Sequence[str], strangers: Sequence[str]
) -> list[str]:
    said = []
    missing = [s for s in told["samples"] if s not in found]
    unexpected = [s for s in found if s not in told["samples"] and s not in strangers]
    if dock["seal"] is None:
        said.append(f"No seal; {show.name(told['seal'])} is on record.")
    elif told["seal"] != _tidy(dock["seal"]):
        said.append(f"The seal reads {show.name(dock['seal'])}; {show.name(told['seal'])} is on record.")
    if dock["seal_state"] not in ("intact", "missing"):
        said.append(f"The seal is {show.words(dock['seal_state'])}.")
    if dock["total"] != len(told["samples"]):
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
        said.append("No custody record inside.")
    return said


def _tidy(text: str, kind: Literal["seal", "sample"] = "seal") -> str:
    """A number as read, spelled as it would have been recorded."""
    try:
        return numbers.read_seal(text) if kind == "seal" else numbers.read(text, "sample")
    except BaileeError:
        return text
