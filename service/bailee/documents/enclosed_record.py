"""What is on a custody record only because it is about to lie in an envelope: which envelope and seal, lines
for what turns out otherwise, the collector's signature in ink; and when it is too late to print it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from bailee.documents import pen
from bailee.documents.letter import INNER, Letter, Line
from bailee.domain.custody import Form
from bailee.domain.numbers import grouped
from bailee.errors import Refused
from bailee.frozen import frozen
from bailee.presentation import surface_words, words
from bailee.presentation.form_view import FormView
from bailee.presentation.sample_view import SampleView
from bailee.presentation.signature_words import Signature, when
from bailee.rules.registry import Finding

CONTACT, PROJECT = "Contact", words.TAGS["project"]
DO_NOT_SEAL: Final = "STOP: do not seal"
_INSTEAD: Final = "Print the custody record as it stands, without envelope and seal."


@frozen
class Enclosing:
    """The envelope that the record is about to lie in: its number, seal, bags or boxes counted."""

    envelope: str
    seal: str
    containers: int | None = None


def in_hand(form: FormView) -> list[SampleView]:
    """What was collected and is in no envelope yet."""
    return [each for each in form.live if each.status == "collected"]


def surfaces(form: FormView) -> bool:
    """Whether anything that goes in is no cassette."""
    return any(each.medium for each in in_hand(form))


def require_time(form: FormView, enclosing: Enclosing) -> None:
    """Raise `Refused` when the paper can no longer lie in the envelope: "received-already", "sealed-already",
    and "nothing-to-enclose" where nothing that was collected is left to go in.
    """
    for each in form.envelopes:
        if each.number != enclosing.envelope:
            continue
        number = grouped(each.number)
        if each.arrivals:
            at = when(max(body.at for body in each.arrivals))
            raise Refused(
                f"Envelope {number} was received on {at}: a record printed now did not travel in it."
                f" {_INSTEAD}",
                code="received-already",
            )
        if each.sealed:
            raise Refused(
                f"Envelope {number} is sealed: a record printed now does not lie in it. Print its sealed"
                " sheet for the pocket outside.",
                code="sealed-already",
            )
    if form.live and not in_hand(form):
        raise Refused(
            f"No sample of form {grouped(form.number)} is left to go into an envelope: all were sealed or"
            f" received. {_INSTEAD}",
            code="nothing-to-enclose",
        )


def require_unused(form: str, enclosing: Enclosing, others: Iterable[Form], bearing: Sequence[str]) -> None:
    """Raise `Refused` when the envelope lies sealed or was received with samples of these other forms
    ("sealed-already", "received-already"), or an envelope is `bearing` the seal ("seal-used").

    Where this form is one of those, `require_time` says so.
    """
    number = grouped(enclosing.envelope)
    found = {each.number: each.envelopes[enclosing.envelope] for each in others}
    for other, envelope in found.items() if form not in found else ():
        is_closed = envelope.sealing is not None and envelope.sealing.opened is None
        if envelope.arrived or is_closed:
            state = "received" if envelope.arrived else "sealed"
            raise Refused(
                f"Envelope {number} was {state} with samples of form {grouped(other)}: a record printed now"
                " is not in it. Read the label of the envelope in your hand again, or give it a new number.",
                code=f"{state}-already",
            )
    if bearing:
        raise Refused(
            f"Seal {words.number(enclosing.seal)} is on record for envelope {grouped(bearing[0])}, and a seal"
            " closes one envelope. Read the number on the seal in your hand again, or take another seal.",
            code="seal-used",
        )


def to_be_sealed(letter: Letter, form: FormView, enclosing: Enclosing, stops: Sequence[Finding]) -> None:
    """What is about to be closed, with which seal; and lines for what turns out otherwise, for no print comes
    after that. Where a rule stops it, that and nothing else.
    """
    if stops:
        told = dict.fromkeys(f"{each.rule}: {each.sentence}" for each in stops)
        letter.box(Line(DO_NOT_SEAL, bold=True, size=9.5), *map(Line, told))
        return
    inside = [f"{surface_words.pieces(each.medium for each in in_hand(form))} of this form to go in"]
    if enclosing.containers is not None:
        inside.append(words.containers(enclosing.containers))
    seal, envelope = words.number(enclosing.seal), grouped(enclosing.envelope)
    letter.box(
        Line(f"To be closed with seal {seal}, as envelope {envelope}", bold=True, size=9.5),
        Line("; ".join((*inside, form.request))),
    )
    written = (
        ("If another seal is used: its number", 92),
        ("initials, time", 48),
        ("samples counted" if surfaces(form) else "cassettes counted", 50.5),
    )
    pen.row(letter, 6.5, *(pen.Blank(*each) for each in written))
    if enclosing.containers is None:
        pen.row(letter, 6.5, pen.Blank("containers (bags or boxes)", 60))
    letter.space(1)


def not_on_record(form: FormView) -> Sequence[str]:
    """What a laboratory asks for before it begins, and nobody entered."""
    told = dict(form.private)
    asked = {
        CONTACT: told[CONTACT] == words.NOT_RECORDED,
        PROJECT: form.body.project is None,
        "Purchase order": not any(each.requested.purchase for each in form.live),
        "Report to": True,
    }
    return [name for name, is_open in asked.items() if is_open]


def to_write_in(letter: Letter, names: Sequence[str]) -> None:
    """A line for each, two beside one another."""
    for two in (names[n : n + 2] for n in range(0, len(names), 2)):
        pen.row(letter, 6.5, *(pen.Blank(each, INNER / 2) for each in two))


def collectors(letter: Letter, form: FormView) -> None:
    """A line for each person who collected, to sign in ink."""
    taken = [row.taken for row in form.hand_overs if row.step == "collected"]
    people = {side.name for side in taken if isinstance(side, Signature)}
    for _ in range(max(1, len(people))):
        pen.row(
            letter,
            9,
            pen.Blank("Collected by: name", 66),
            pen.Blank("signature", 58),
            pen.Blank(pen.WHEN, 66.5),
        )
