"""The receipt slip of a person who carries a sealed envelope without a key: two on a page, one for each side.

They sign in ink for the sealed envelope, the dock signs when it arrives. No client and no site stand on it.
"""

from __future__ import annotations

from itertools import groupby
from typing import Final

from bailee.documents import pen
from bailee.documents.letter import INNER, MARGIN, SMALL, Letter, Line
from bailee.documents.sealed_sheet import newest_seal
from bailee.domain.acts.form import Opened
from bailee.domain.custody import Form
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.domain.opening_hours.calendars import WEEKDAYS, Calendar
from bailee.frozen import frozen
from bailee.presentation import words
from bailee.presentation.envelope_view import EnvelopeView, SealingView
from bailee.presentation.form_view import envelope_view, organization
from bailee.presentation.signature_words import when
from bailee.presentation.words import Heading
from bailee.rules.case import Case

FOOT: Final = "The person who gave the envelope away enters this slip in the ledger with its number."
COPIES: Final = ("copy of the firm", "copy of the person who carries it")
TAKEN: Final = "I took this envelope and have not opened it."
RECEIVED: Final = "I received this envelope and have not opened it."
SEAL_IS: Final = "Its seal is"
TALL: Final = 120.0
"""Millimeters of a slip; it is as wide as all that is printed."""
_APART, _IN, _QR = 3.0, 4.0, 15.0
_NUMBER: Final = 31.8
"""Points: capitals of Noto Sans are 8 mm high in it (714 of 1000 units)."""
_GIVEN, _DELIVERED = 47.0, 89.0
"""Where the two signatures begin."""


@frozen
class _Slip:
    """What a slip says beside what is on record; `reprint` and `demo` are empty where there is nothing to."""

    slip: str
    copy: str
    telephone: str
    demo: str
    reprint: str


def pdf(
    number: str, case: Case, at: Moment, slip: str, telephone: str = "", log: str = "", *, nth: int = 1
) -> bytes:
    """Both copies of slip number `slip` as a PDF on letter paper, printed at `at`; `telephone` is the firm's.

    `log` is the log's name, `nth` which print of the slip it is.

    The same input gives the same bytes. Raises `Malformed` ("not-sealed").
    """
    view = envelope_view(number, case)
    sealed = newest_seal(view)
    letter = Letter(f"{Heading.SLIP} {slip}", "", FOOT, at.instant)
    top, zone = letter.y, _forms(view, case)[0].opened.of(Opened).zone
    printed = words.reprint(nth, when(Moment.shown_in(at.instant, zone)))
    for n, copy in enumerate(COPIES):
        letter.y = top + n * (TALL + _APART)
        _slip(letter, view, sealed, case, _Slip(slip, copy, telephone, words.demo(log), printed))
    return letter.file()


def _slip(letter: Letter, view: EnvelopeView, sealed: SealingView, case: Case, told: _Slip) -> None:
    from bailee.labels import symbols

    forms, telephone = _forms(view, case), told.telephone
    parties = forms[0].opened.of(Opened).parties
    top, left = letter.y, MARGIN + _IN
    letter.frame(MARGIN, top, INNER, TALL)
    letter.say(left, top + 6, Line(f"RECEIPT FOR A SEALED ENVELOPE, {told.copy}", soft=True, size=9))
    letter.say(left, top + 11, Line(f"Slip {told.slip}", bold=True, size=11))
    letter.say(MARGIN + INNER / 2, top + 9.8, Line(told.demo, bold=True))
    letter.say(MARGIN + INNER / 2, top + 13.2, Line(told.reprint, bold=True, size=SMALL))
    letter.say(left, top + 22, Line(grouped(view.number), bold=True, size=_NUMBER))
    letter.qr(symbols.qr(view.number), MARGIN + INNER - _IN - _QR, top + _IN, _QR)
    letter.y = top + 24
    if any(case.policy(form).dock_blind for form in forms):
        pen.row(letter, 6, pen.Blank("Custody seal, as read on the envelope", 130), indent=_IN)
    else:
        letter.paragraph(Line(f"{Heading.SEAL} {view.seal}", bold=True, size=11), indent=_IN)
    body = sealed.body
    inside = [view.pieces]
    inside += [] if body.containers is None else [words.containers(body.containers)]
    sender = f"From {organization(case, parties.firm)}" + (f", telephone {telephone}" if telephone else "")
    letter.paragraph(
        Line(f"{', '.join(inside)}; sealed {when(body.at)}"),
        Line("; ".join((sender, *(f"form {grouped(form.number)}" for form in forms)))),
        Line(f"To {organization(case, parties.lab)}; dock {_hours(case, parties.lab)}"),
        indent=_IN,
    )
    if not telephone:
        pen.row(letter, 6, pen.Blank("Telephone of the firm", 90), indent=_IN)
    letter.y = top + _GIVEN
    named = (pen.Blank(f"{Heading.RELINQUISHED}: name", 120), pen.Blank("identity document seen", 45, ("",)))
    pen.row(letter, 7.5, *named, indent=_IN)
    pen.row(letter, 8, *_SIGNED, indent=_IN)
    _seal_found(letter, f"{TAKEN} {SEAL_IS}", 6.5)
    pen.row(letter, 7.5, pen.Blank("Name", 95), pen.Blank("firm, telephone", 88), indent=_IN)
    pen.row(letter, 8, *_SIGNED, indent=_IN)
    letter.y = top + _DELIVERED
    _seal_found(letter, f"{RECEIVED} {SEAL_IS}", 7)
    pen.row(letter, 9, pen.Blank("Name", 95), pen.Blank("organization", 88), indent=_IN)
    pen.row(letter, 9.5, *_SIGNED, indent=_IN)


def _seal_found(letter: Letter, said: str, high: float) -> None:
    """What a person says of the envelope, and boxes for how its seal is: nothing of it is ticked before."""
    letter.paragraph(Line(said, bold=True), indent=_IN)
    states = tuple(name for code, name in words.SEAL_STATES.items() if code != "not_looked_at")
    pen.row(letter, high, pen.Blank("", 88, states), pen.Blank("seal as read", 95), indent=_IN)


_SIGNED: Final = (pen.Blank("Signature", 105), pen.Blank(pen.WHEN, 78))


def _forms(view: EnvelopeView, case: Case) -> list[Form]:
    """The forms that have samples in an envelope."""
    return [form for form in case.forms.values() if view.number in form.envelopes]


def _hours(case: Case, lab: str) -> str:
    """When a laboratory's dock is open, days alike drawn together; or that nobody entered it."""
    found = case.organizations.get(lab)
    calendar = found.calendars.get("lab") if found else None
    if calendar is None:
        return "hours not entered"
    days = [(WEEKDAYS[day].capitalize(), _spans(calendar, day)) for day in range(7)]
    told = []
    for spans, alike in groupby((each for each in days if each[1]), key=lambda each: each[1]):
        names = [name for name, _ in alike]
        told.append(f"{names[0]} to {names[-1]} {spans}" if len(names) > 1 else f"{names[0]} {spans}")
    return f"open {', '.join(told)} ({calendar.zone}), except holidays"


def _spans(calendar: Calendar, day: int) -> str:
    return " and ".join(calendar.to_data()["hours"].get(WEEKDAYS[day], ()))
