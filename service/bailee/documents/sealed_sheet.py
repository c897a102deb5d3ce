"""The sealed sheet: a page for the pocket outside an envelope, printed once it is sealed, for its dock.

It says what was sealed, by whom and with which seal, and has room for what the dock finds and for those who
hand the envelope on. No client and no site stand on it. Ink is no signature of the ledger: what was written
is entered.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final, get_args

from bailee.documents import pen
from bailee.documents.letter import INNER, MARGIN, SMALL, WIDTH, Cell, Column, Letter, Line
from bailee.domain.acts.form import Opened, Package
from bailee.domain.custody import Form
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.errors import Malformed
from bailee.ledger import fingerprint
from bailee.presentation import on_site_words, surface_words, words
from bailee.presentation.envelope_view import EnvelopeView, SealingView
from bailee.presentation.form_view import envelope_view, organization
from bailee.presentation.sample_view import SampleView
from bailee.presentation.signature_words import entry_numbers, when
from bailee.presentation.words import NONE, NOT_RECORDED, Heading
from bailee.rules import wording
from bailee.rules.case import Case

FOOT: Final = (
    "Printed from what was signed at sealing. The person who writes on it enters that in the ledger."
)
BLIND: Final = "read it on the envelope"
"""What stands for the number of the seal where the dock is not to copy it."""
_SIDE: Final = 20.0
_ROW: Final = 7.2
_SAMPLES: Final = (
    Column("", 6, right=True),
    Column(Heading.SAMPLE, 29),
    Column("Serial", 26),
    Column(Heading.LOT, 29),
    Column(Heading.STARTED, 40),
    Column("Run, s", 13, right=True),
    Column("L/min", 14, right=True),
    Column("Vol., L", 14, right=True),
    Column("Seen", INNER - 171, tick=True),
)
_NOT_COUNTED: Final = "containers not counted"
_LOOKED_AT: Final = "not_looked_at"


def pdf(number: str, case: Case, at: Moment, log: str = "") -> bytes:
    """The sheet of a sealed envelope as a PDF on letter paper, printed at `at`; `log` is the log's name.

    The same input gives the same bytes. Raises `Malformed` ("not-sealed") for an envelope that nobody sealed,
    or that was opened again.
    """
    view = envelope_view(number, case)
    sealed = newest_seal(view)
    forms = {form.number: form for form in case.forms.values() if number in form.envelopes}
    letter = Letter(
        f"Sealed envelope {grouped(number)}",
        f"Sealed envelope {grouped(number)}, continued",
        FOOT,
        at.instant,
    )
    zone = next(iter(forms.values())).opened.of(Opened).zone
    _head(letter, number, Moment.shown_in(at.instant, zone), words.demo(log))
    _sealed(letter, view, sealed, blind=any(case.policy(form).dock_blind for form in forms.values()))
    _way(letter, view, forms, case)
    samples = [each for _, inside in view.inside for each in inside if each.number in view.manifest]
    letter.table(_SAMPLES, [_sample(n, each) for n, each in enumerate(samples, 1)])
    letter.space(0.8)
    letter.paragraph(*(Line(said, size=SMALL) for said in _on_site(forms, samples, case)))
    _dock(letter)
    pen.hands(letter, high=7.2)
    letter.paragraph(*(Line(said, size=SMALL) for said in _leaves(forms, number)))
    return letter.file()


def newest_seal(view: EnvelopeView) -> SealingView:
    """The seal that is on it. Raises `Malformed` ("not-sealed") when there is none."""
    if view.sealed is None:
        raise Malformed(
            f"Envelope {grouped(view.number)} is not sealed: seal it, then print this paper.",
            code="not-sealed",
        )
    return view.sealed


def _head(letter: Letter, number: str, at: Moment, demo: str) -> None:
    from bailee.labels import symbols

    top = letter.y
    letter.say(MARGIN, top + 4.2, Line("SEALED ENVELOPE", soft=True, size=9))
    letter.say(MARGIN, top + 13.2, Line(grouped(number), bold=True, size=24))
    letter.say(MARGIN, top + 19, Line(f"Printed {when(at)}", soft=True, size=SMALL))
    letter.say(MARGIN + INNER / 2, top + 4.2, Line(demo, bold=True))
    letter.qr(symbols.qr(number), WIDTH - MARGIN - _SIDE, top + 0.5, _SIDE)
    letter.y = top + _SIDE + 2


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
                [Line(wording.counted(body.total, "cassette"), bold=True, size=11), Line("; ".join(inside))],
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
            _ROW,
            pen.Blank(f"{to}, by", 105),
            pen.Blank("tracking or slip", 52),
            pen.Blank("on", 33.5),
        )
        letter.space(1)
        return
    told = "; ".join(f"{label.lower()} {', '.join(lines)}" for label, lines in view.way)
    letter.paragraph(Line(f"{to}; {told}"))


def _sample(n: int, sample: SampleView) -> list[Cell]:
    body = sample.collected
    number = [[Line(str(n))], [Line(grouped(sample.number), bold=True)]]
    named = grouped(sample.lot_number) if sample.lot_number else NONE
    lot = sample.lot.maker_lot if sample.lot else named
    if sample.surface:
        begun = [Line(wording.clock(sample.surface.at))]
        return [
            *number,
            [Line(surface_words.MEDIA[sample.surface.medium])],
            [Line(lot)],
            begun,
            [],
            [],
            [],
            [],
        ]
    if body is None:
        return [*number, *([[]] * 7)]
    return [
        *number,
        [Line(body.serial or NOT_RECORDED)],
        [Line(lot)],
        [Line(wording.clock(body.started))],
        [Line(str(body.run_s))],
        [Line(sample.flow or "")],
        [Line(sample.volume or "")],
        [],
    ]


def _on_site(forms: Mapping[str, Form], samples: Sequence[SampleView], case: Case) -> Iterator[str]:
    """With what the air was drawn, how the sky was, and the air."""
    bodies = [each.collected for each in samples if each.collected]
    opened = next(iter(forms.values())).opened.of(Opened)
    for pump, meter in dict.fromkeys((body.pump, body.meter) for body in bodies if body.pump):
        yield f"Pump {pump}" + (f", meter {meter}{_certificate(case, opened, meter)}" if meter else "")
    skies = [body.weather for body in bodies if body.weather]
    read = [on_site_words.line(body) for form in forms.values() for body in on_site_words.observed(form)]
    if said := [*dict.fromkeys(map(on_site_words.weather, skies)), *read]:
        yield wording.start("; ".join(said))


def _certificate(case: Case, opened: Opened, meter: str) -> str:
    firm = case.organizations.get(opened.parties.firm)
    found = firm.certificate("meter", meter, opened.visit) if firm else None
    if found is None:
        return ""
    return (
        f" (certificate valid to {found.valid_to})"
        if found.valid_to
        else f" (certificate of {found.certified})"
    )


def _dock(letter: Letter) -> None:
    """What the dock reads, counts and measures, in the order in which it does."""
    letter.heading("At the dock, in ink", "read the seal first, and write down what is there", keep=5 * _ROW)
    states = tuple(name for code, name in words.SEAL_STATES.items() if code != _LOOKED_AT)
    found = tuple(words.plain(each) for each in get_args(Package) if each != _LOOKED_AT)
    for row in (
        (pen.Blank("Seal read", 92), pen.Blank("", 98.5, states)),
        (pen.Blank(Heading.PACKAGE, 115, found), pen.Blank(Heading.CONTAINERS.lower(), 75.5)),
        (
            pen.Blank(Heading.DELIVERED, 62),
            pen.Blank(Heading.TAKEN_IN.lower(), 66),
            pen.Blank("opened at", 62.5),
        ),
        (
            pen.Blank("Cassettes counted", 48),
            pen.Blank("not listed here", 42),
            pen.Blank("record inside", 28, ("",)),
            pen.Blank("temperature inside, \N{DEGREE SIGN}C", 72.5),
        ),
        (pen.Blank("Name", 58), pen.Blank("signature", 58), pen.Blank("date, time, UTC offset", 74.5)),
    ):
        pen.row(letter, _ROW, *row)
    letter.space(1.5)


def _leaves(forms: Mapping[str, Form], number: str) -> Iterator[str]:
    """What an auditor compares with: the leaf of the entry that sealed it, on each form."""
    for form in forms.values():
        sealing = form.envelopes[number].sealing
        assert sealing
        entry = sealing.said.entry
        yield f"Leaf hash of entry {entry.n}, form {grouped(form.number)}:"
        yield fingerprint.fingerprint(entry.leaf)
