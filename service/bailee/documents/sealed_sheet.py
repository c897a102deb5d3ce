"""The sealed sheet: a page for the pocket outside an envelope, printed once it is sealed, for its dock.

It says what was sealed, by whom and with which seal, and has room for what the dock finds and for those who
hand the envelope on. No client and no site stand on it. Ink is no signature of the ledger: what was written
is entered.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from bailee.documents import dock_block, pen, sealed_list
from bailee.documents.letter import INNER, MARGIN, SMALL, WIDTH, Letter, Line
from bailee.domain.acts.form import Opened
from bailee.domain.custody import Form
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.domain.requests import Order
from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.ledger import fingerprint
from bailee.presentation import request_words, words
from bailee.presentation.envelope_view import EnvelopeView, SealingView
from bailee.presentation.form_view import envelope_view, organization
from bailee.presentation.signature_words import entry_numbers, when
from bailee.presentation.words import Heading
from bailee.rules import wording
from bailee.rules.case import Case

FOOT: Final = (
    "Printed from what was signed at sealing. The person who writes on it enters that in the ledger."
)
BLIND: Final = "read it on the envelope"
"""What stands for the number of the seal where the dock is not to copy it."""
_SIDE: Final = 20.0
_NOT_COUNTED: Final = "containers not counted"
_IN_A_HURRY: Final = ("emergency", "rush")


@frozen
class _Room:
    """How much of the page is given to ink: rows of the dock, hand-overs and their rows, in millimeters."""

    row: float
    hands: int
    hand: float
    apart: float


_ROOMS: Final = (_Room(9.6, 3, 10, 0.8), _Room(8, 3, 8, 0.8), _Room(7, 2, 8, 0.8), _Room(6, 2, 6.6, 0.4))
"""From the roomiest down to what a full envelope leaves."""


def pdf(number: str, case: Case, at: Moment, log: str = "", *, nth: int = 1) -> bytes:
    """The sheet of a sealed envelope as a PDF on letter paper, printed at `at`; `log` is the log's name.

    `nth`: which print of it this is.

    The same input gives the same bytes. Raises `Malformed` ("not-sealed") for an envelope that nobody sealed,
    or that was opened again.
    """
    view = envelope_view(number, case)
    sealed = newest_seal(view)
    first = b""
    for room in _ROOMS:
        letter = _drawn(view, sealed, case, at, (log, nth), room)
        file = letter.file()
        if letter.pages == 1:
            return file
        first = first or file
    return first


def _drawn(
    view: EnvelopeView, sealed: SealingView, case: Case, at: Moment, print_of: tuple[str, int], room: _Room
) -> Letter:
    number, (log, nth) = view.number, print_of
    forms = {form.number: form for form in case.forms.values() if number in form.envelopes}
    letter = Letter(
        f"Sealed envelope {grouped(number)}",
        f"Sealed envelope {grouped(number)}, continued",
        FOOT,
        at.instant,
    )
    zone = next(iter(forms.values())).opened.of(Opened).zone
    here = Moment.shown_in(at.instant, zone)
    _head(letter, view, here, words.demo(log), list(forms))
    pen.mark_reprint(letter, nth, here)
    _sealed(letter, view, sealed, blind=any(case.policy(form).dock_blind for form in forms.values()))
    _way(letter, view, forms, case)
    letter.space(1.5)
    letter.table(sealed_list.columns(view.samples), sealed_list.rows(view.samples, forms, case), room.apart)
    letter.space(0.8)
    letter.paragraph(
        Line(wording.start("; ".join(sealed_list.taken(view.samples, forms, case))), size=SMALL),
        *(Line(each, size=SMALL) for each in sealed_list.air(view.samples, forms)),
    )
    dock_block.on_the_sheet(letter, room.row, surfaces=any(each.medium for each in view.samples))
    pen.hands(letter, room.hands, room.hand)
    letter.paragraph(*(Line(each, size=SMALL) for each in _leaves(forms, number)))
    return letter


def newest_seal(view: EnvelopeView) -> SealingView:
    """The seal that is on it. Raises `Malformed` ("not-sealed") when there is none."""
    if view.sealed is None:
        raise Malformed(
            f"Envelope {grouped(view.number)} is not sealed: seal it, then print this paper.",
            code="not-sealed",
        )
    return view.sealed


def _head(letter: Letter, view: EnvelopeView, at: Moment, demo: str, forms: Sequence[str]) -> None:
    """The number, and beside it what the laboratory is asked for and how soon."""
    from bailee.labels import symbols

    top, beside = letter.y, MARGIN + INNER / 2
    letter.say(MARGIN, top + 4.2, Line("SEALED ENVELOPE", soft=True, size=9))
    letter.say(MARGIN, top + 13.2, Line(grouped(view.number), bold=True, size=24))
    letter.say(MARGIN, top + 19, Line(f"Printed {when(at)}", soft=True, size=SMALL))
    letter.say(beside, top + 4.2, Line(demo, bold=True))
    letter.qr(symbols.qr(view.number), WIDTH - MARGIN - _SIDE, top + 0.5, _SIDE)
    letter.y = top + 5
    asked = {each.number: each.requested for each in view.samples}
    told = [request_words.one_value(asked, name) for name in ("analysis", "turnaround")]
    narrow = INNER / 2 - _SIDE - 3
    named = f"{'Form' if len(forms) == 1 else 'Forms'} {', '.join(map(grouped, forms))}"
    letter.paragraph(Line(named, bold=True), Line(", ".join(told)), indent=INNER / 2, wide=narrow)
    letter.paragraph(
        *(Line(each, bold=True, size=13) for each in _hurry(asked)), indent=INNER / 2, wide=narrow
    )
    letter.y = max(letter.y, top + _SIDE + 2)


def _hurry(asked: Mapping[str, Order]) -> Iterator[str]:
    """What is in a hurry, and until when; how many, where it is not all."""
    told: dict[str, list[int]] = {}
    for n, each in enumerate(asked.values(), 1):
        rank = next((name for name in _IN_A_HURRY if name in (each.priority, each.turnaround)), "")
        due = f"due {wording.day(each.due)}" if each.due else ""
        if said := ", ".join(filter(None, (rank.upper(), due))):
            told.setdefault(said, []).append(n)
    for said, rows in told.items():
        yield said if len(rows) == len(asked) else f"{said}: {sealed_list.numbered(rows)}"


def _sealed(letter: Letter, view: EnvelopeView, sealed: SealingView, *, blind: bool) -> None:
    body, by = sealed.body, sealed.by
    seal = BLIND if blind else view.seal
    inside = [words.containers(body.containers) if body.containers is not None else _NOT_COUNTED]
    if body.record_pages is not None:
        inside.append(f"custody record of {wording.counted(body.record_pages, 'page')}")
    letter.fields(
        2,
        [
            (Heading.SEAL, [Line(seal, bold=True, size=11)]),
            (
                "Inside",
                [Line(view.pieces, bold=True, size=11), Line("; ".join(inside))],
            ),
        ],
    )
    entries = entry_numbers(by.entries)
    letter.paragraph(
        Line(f"{Heading.SEALED} {when(body.at)} by {by.name}, {by.role}, {by.organization}, {entries}")
    )


def _way(letter: Letter, view: EnvelopeView, forms: Mapping[str, Form], case: Case) -> None:
    """Where it goes and with whom; lines for that as long as nobody has signed it."""
    labs = dict.fromkeys(form.opened.of(Opened).parties.lab for form in forms.values())
    to = f"To {wording.listed([organization(case, lab) for lab in labs])}"
    if view.shipped is None:
        pen.row(
            letter,
            8,
            pen.Blank(f"{to}, by", 190.5),
        )
        pen.row(
            letter,
            8,
            pen.Blank("tracking or slip", 120),
            pen.Blank("on", 70.5),
        )
        letter.space(1)
        return
    told = "; ".join(f"{label.lower()} {', '.join(lines)}" for label, lines in view.way)
    letter.paragraph(Line(f"{to}; {told}"))


def _leaves(forms: Mapping[str, Form], number: str) -> Iterator[str]:
    """What an auditor compares with: the leaf of the entry that sealed it, on each form."""
    for form in forms.values():
        sealing = form.envelopes[number].sealing
        assert sealing
        entry = sealing.said.entry
        leaf = fingerprint.fingerprint(entry.leaf)
        yield f"Leaf hash of entry {entry.n}, form {grouped(form.number)}: {leaf}"
