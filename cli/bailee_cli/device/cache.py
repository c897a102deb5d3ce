"""Reading from the service, and remembering on the device what a basement without a network will need."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from typing import Any

import click

from bailee.domain import numbers
from bailee.errors import BaileeError, Malformed, Unavailable
from bailee.presentation import words
from bailee_cli.device.session import Session


def form(session: Session, number: str) -> dict[str, Any]:
    """A form as it stands; its newest entry and its zone are remembered."""
    told: dict[str, Any] = session.service.get(f"/forms/{number}")
    session.outbox.told(f"form/{number}", told["length"], told["head"])
    remember_visit(session, number, told["zone"], told["visit"])
    return told


def remember_visit(session: Session, number: str, zone: str, visit: str) -> None:
    """Keep zone and day of a form's visit for places without a network."""
    session.outbox.remember(f"zone/{number}", zone)
    session.outbox.remember(f"visit/{number}", visit)


def by_form(
    session: Session, given: Sequence[str], on: str | None = None, *, mine: bool = False
) -> dict[str, list[str]]:
    """Which samples are meant, by form: samples as named; of a form or an envelope, all that are on or in it,
    but for those that were missing when it was opened, which are told, and with `mine` for those that
    somebody else holds.

    With `on`, all of them are samples of that form, and nothing is asked. Raises `Malformed` for a sample
    nobody collected, and when none is meant.
    """
    if on is not None:
        return {on: [_sample(number) for number in given]}
    found: dict[str, list[str]] = {}
    known: dict[str, str] = {}
    for number in given:
        match numbers.kind_of(number):
            case "form":
                told = form(session, number)
                listed = _there(s for s in told["samples"] if not s["void"])
                found.setdefault(number, []).extend(_mine(session, told, listed) if mine else listed)
            case "envelope":
                for each in session.service.get(f"/envelopes/{number}")["forms"]:
                    told = form(session, each)
                    listed = _there(s for s in told["samples"] if s["envelope"] == number)
                    found.setdefault(each, []).extend(_mine(session, told, listed) if mine else listed)
            case _:
                if _sample(number) not in known:
                    told = form(session, form_of(session, number))
                    known |= {s["sample"]: told["form"] for s in told["samples"]}
                found.setdefault(known[number], []).append(number)
    meant = {number: list(dict.fromkeys(samples)) for number, samples in found.items() if samples}
    if not meant:
        named = ", ".join(map(numbers.grouped, given))
        raise Malformed(
            f"{named} stands for no sample here: name those you mean by their own numbers. Nothing was"
            " signed.",
            code="nothing-there",
        )
    return meant


def held(session: Session, told: Mapping[str, Any]) -> list[str]:
    """What this person holds of a form, with whichever of their keys they took it."""
    hands = _hands(session)
    return [s["sample"] for s in told["samples"] if not s["void"] and _holder(s) in hands]


def given_besides(
    session: Session, seen: Mapping[str, Mapping[str, Any]], taken: Sequence[str]
) -> dict[str, str]:
    """What was relinquished to this person and is not among what they take, with who relinquished it.

    Of the forms `seen` also what was relinquished to their organization without naming anybody.
    """
    found = {sample: by for told in seen.values() for sample, by in _given(session, told).items()}
    with suppress(Unavailable):  # without a network they are told of what is known
        for line in session.service.get("/forms")["forms"] if seen else ():
            if line["form"] not in seen and line.get("given"):
                there = _given(session, form(session, line["form"]))
                found |= {sample: there[sample] for sample in line["given"] if sample in there}
    return {sample: by for sample, by in found.items() if sample not in taken}


def _given(session: Session, told: Mapping[str, Any]) -> dict[str, str]:
    """What waits on one form to be received by this person, or by whoever of their organization."""
    waiting = {s["sample"]: s["given"] for s in told["samples"] if s["given"] and not s["void"]}
    here = {sample: each for sample, each in waiting.items() if each["to"] == session.profile.org}
    hands = {None, *_hands(session)} if here else set[str | None]()
    return {sample: str(each["by"]) for sample, each in here.items() if each["kid"] in hands}


def _mine(session: Session, told: Mapping[str, Any], listed: Iterable[str]) -> list[str]:
    """Of these what this person holds; what others hold is told. Raises `Malformed` when nothing is left."""
    wanted, own = list(listed), set(held(session, told))
    others: dict[str, int] = {}
    for each in told["samples"]:
        if each["sample"] in wanted and each["sample"] not in own:
            whom = each["holder"] or "no one on record"
            others[whom] = others.get(whom, 0) + 1
    if others:
        said = ", ".join(f"{count} with {whom}" for whom, count in others.items())
        click.echo(f"Left out: {said}.", err=True)
    if wanted and not own.intersection(wanted):
        raise Malformed(
            f"You hold nothing of form {numbers.grouped(told['form'])}. Nothing was signed.",
            code="holds-nothing",
        )
    return [each for each in wanted if each in own]


def _holder(sample: Mapping[str, Any]) -> str | None:
    """The key that holds a sample now, if one does."""
    last = sample["links"][-1] if sample["links"] else None
    return str(last["kid"]) if last and last["until"] is None and last["kid"] else None


def _hands(session: Session) -> set[str]:
    """Every key of the person at the keyboard, as far as the ledger tells."""
    own = session.key.kid
    try:
        keys = session.service.get(f"/organizations/{session.profile.org}")["keys"] or []
    except BaileeError:
        return {own}
    person = next((each["owner"] for each in keys if each["kid"] == own), own)
    return {own, *(each["kid"] for each in keys if each["owner"] == person)}


def _there(samples: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    for each in samples:
        if each["status"] == "missing":
            click.echo(f"Left out: {numbers.grouped(each['sample'])} was not in the envelope.", err=True)
        else:
            yield each["sample"]


def form_of(session: Session, sample: str, *, even_void: bool = False) -> str:
    """The form on which a sample was collected; `even_void`: or on which it was voided before that.

    Raises `Malformed` when there is none.
    """
    told = session.service.get(f"/samples/{sample}")
    is_void = bool(told["state"] and told["state"]["void"])
    if is_void and told["state"]["status"] == "announced" and not even_void:
        raise Malformed(
            f"{numbers.grouped(sample)} is void ({words.plain(told['state']['void'])}), and was not collected"
            " before that.",
            code="not-collected",
        )
    if told["form"] is None or (told["state"]["status"] == "announced" and not is_void):
        raise Malformed(
            f"{numbers.grouped(sample)} was issued and not collected on any form that reached the ledger.",
            code="not-collected",
        )
    return str(told["form"])


def replaced_on(
    session: Session, replaces: str | None, given: str | None, form: str, *, offline: bool
) -> str | None:
    """The form of the sample that another replaces, where that is not the same form: as given, or looked up.

    Raises `Malformed` where nobody collected it.
    """
    if replaces and not given and not offline:
        given = form_of(session, replaces, even_void=True)
    return given if given != form else None


def remember_lots(session: Session) -> None:
    """Keep, for places without a network, which lot each issued number belongs to and when
    that lot expires.
    """
    lots = session.service.get("/lots")["lots"]
    known = {sample: _of_lot(lot) for lot in reversed(lots) for sample in lot["issued"]}
    session.outbox.remember("lots", known)


def lot_of(session: Session, sample: str, *, offline: bool) -> dict[str, Any] | None:
    """The lot of a sample number: from the service, or as last remembered; None when neither knows."""
    if not offline:
        try:
            told = session.service.get(f"/samples/{sample}")["lot"]
            if told is not None:
                return _of_lot(told)
        except BaileeError:
            pass  # unknown there, or no network: what the device remembers decides
    remembered: dict[str, Any] | None = (session.outbox.recall("lots") or {}).get(sample)
    return remembered


def _of_lot(told: Mapping[str, Any]) -> dict[str, Any]:
    """What a device keeps of a lot."""
    names = ("lot", "maker_lot", "expires", "recalled", "nominal_flow", "cassette")
    return {name: told[name] for name in names}


def visit_of(session: Session, number: str) -> str | None:
    """Day of a form's visit, when this device has seen the form."""
    found: str | None = session.outbox.recall(f"visit/{number}")
    return found


def zone_of(session: Session, number: str | None) -> str | None:
    """Time zone of a form's visit, when this device has seen the form."""
    found: str | None = session.outbox.recall(f"zone/{number}") if number else None
    return found


def current_form(session: Session, given: str | None) -> str:
    """The form that is meant: as given, or the one this device worked on last."""
    number = given or session.outbox.recall("form")
    if number is None:
        raise Malformed("Enter which form, with --form, or open one with `bailee open`.", code="no-form")
    session.outbox.remember("form", number)
    return str(number)


def see(session: Session, forms: Iterable[str], *, offline: bool) -> dict[str, dict[str, Any]]:
    """See the newest entries of these forms before speaking on them, when there is a network.

    Gives what was seen, by form: nothing of one that could not be asked for.
    """
    seen: dict[str, dict[str, Any]] = {}
    for number in () if offline else forms:
        try:
            seen[number] = form(session, number)
        except Unavailable:
            break
        except BaileeError:
            continue  # not there yet: another device has it and has not sent it
    session.seen |= seen
    return seen


def _sample(number: str) -> str:
    return numbers.require(number, "sample")
