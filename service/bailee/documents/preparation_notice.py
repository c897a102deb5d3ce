"""What occupants are asked to do before air samples are taken: one page in plain words, as text, HTML or PDF.

The hours are common practice, no source; ventilation in normal operation: Health Canada, guidance on
culturable fungi in air. The address stands on the paper alone: nothing here is ever sent to a service.
"""

from __future__ import annotations

import html
import textwrap
from collections.abc import Iterator, Sequence
from datetime import timedelta
from decimal import Decimal
from typing import Final

from bailee.documents import pen
from bailee.documents.kept_together import TIE, tied
from bailee.documents.letter import INNER, MARGIN, SMALL, Letter, Line
from bailee.domain import cautions
from bailee.domain.moments import Moment
from bailee.domain.policy import Policy
from bailee.frozen import frozen

TITLE: Final = "Getting ready for air sampling"
FOOT: Final = "A request how to prepare. It is not a health finding and not legal advice."
_LOCAL: Final = (
    "Local rules, your lease and the advice of licensed professionals come first: where they ask for"
    " something else, follow them."
)
_CLOSED: Final = (
    "Keep windows and outside doors closed. Coming and going as usual is fine; close them behind you.",
    "Switch off air cleaners (purifiers), ionizers and ozone machines, and leave them off.",
)
_FRESH_AIR: Final = (
    (
        "Switch off fresh-air exchangers (heat or energy recovery), whole-house and attic fans, and leave"
        " them off. If they are the only ventilation, serve fuel-burning appliances, or a person needs them"
        " for health, leave them on and let us know."
    ),
)
_AS_USUAL: Final = (
    (
        "Leave heating, cooling and ventilation the way they normally run: please do not switch them off or"
        " to the fan alone, and do not change filters."
    ),
)
_UNDISTURBED: Final = (
    (
        "Please do not clean: no vacuuming, sweeping, dusting or mopping. No painting, sanding, demolition or"
        " other building work."
    ),
)
_ON_THE_DAY: Final = (
    (
        "We need to reach the rooms agreed with you, and a place outdoors away from the building. A small"
        " pump runs for some minutes in each place; it leaves nothing behind."
    ),
    (
        "If something could not be done, let us know. The true answer is worth more than the perfect one; we"
        " record it with the samples."
    ),
)
_SENDER, _QUESTIONS_TO = "Sent by", "Questions"
_ASKED_OF_SENDER: Final = {_SENDER: "Sent by: name of the firm", _QUESTIONS_TO: "Questions: name, telephone"}
_QUESTIONS: Final = (
    "Windows and outside doors closed since",
    "Air cleaners off since (or: there are none)",
    "Last cleaned or worked on",
    "Heating, cooling, ventilation as usual? If not, what was different",
)
_BLANK: Final = ' class="blank"'
SIGNED: Final = "Signed by an occupant"
_WHO_SIGNS: Final = (("Name", "Apartment or suite"), ("Signature", "Date"))
_OFF_SINCE: Final = "Air cleaners, fresh-air exchangers and fans off since (or: there are none)"
_MONTH_FIRST: Final = (
    "US/", "America/New_York", "America/Detroit", "America/Kentucky/", "America/Indiana/",
    "America/Chicago", "America/Menominee", "America/North_Dakota/", "America/Denver", "America/Boise",
    "America/Phoenix", "America/Los_Angeles", "America/Anchorage", "America/Juneau", "America/Sitka",
    "America/Metlakatla", "America/Yakutat", "America/Nome", "America/Adak", "Pacific/Honolulu",
)  # fmt: skip
"""Zones of the United States, where the month is written before the day (common practice, no source)."""
_WIDTH: Final = 78
_ROOMS: Final = ((11.0, 8.0), (10.5, 7.2), (10.0, 6.6), (9.5, 6.2))
"""Points of type, larger than on other papers of ours, because nobody chose to read this one; and millimeters
from one line to write on to the next.
"""
_MONTHS: Final = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
_DAYS: Final = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@frozen
class Notice:
    """The facts of one visit.

    `visit` shows the clock of the site; names and address are printed and go nowhere else.
    """

    visit: Moment
    zone: str
    policy: Policy
    firm: str = ""
    site: str = ""
    contact: str = ""

    @property
    def closed_from(self) -> Moment:
        """By when windows are shut, air cleaners and fresh air off, on the clock of the site."""
        return self._before(self.policy.preparation_h)

    @property
    def undisturbed_from(self) -> Moment:
        """From when nothing is cleaned, painted or torn out."""
        return self._before(self.policy.undisturbed_h)

    @property
    def give_by(self) -> Moment:
        """By when the occupants must have been told: in time to do it, and as early as the firm wants."""
        hours = max(self.policy.notice_h, self.policy.preparation_h, self.policy.undisturbed_h)
        return self._before(hours)

    def _before(self, hours: Decimal) -> Moment:
        # True hours: a clock change in between makes the wall clock show one hour more or less.
        seconds = int(hours * 3600)
        return Moment.shown_in(self.visit.moved(-timedelta(seconds=seconds)).instant, self.zone)


@frozen
class Section:
    """A heading and its points: a list, questions with a line to write on after each, or a signature with
    what belongs to it on two lines.
    """

    title: str
    points: tuple[str, ...]
    kind: str = "list"


def sections(notice: Notice) -> list[Section]:
    """The whole content, in order."""
    fresh_air = notice.policy.fresh_air_off
    points = _CLOSED + (_FRESH_AIR if fresh_air else ()) + _AS_USUAL
    closed = Section(f"From {when(notice.closed_from, notice.zone)} until we have left", points)
    clean = Section(f"From {when(notice.undisturbed_from, notice.zone)} until we have left", _UNDISTURBED)
    until = [Section(closed.title, points + _UNDISTURBED)] if closed.title == clean.title else [closed, clean]
    care = Section("Please take care", tuple(each.says for each in cautions.OCCUPANTS))
    return [
        *until,
        care,
        Section("On the day", _ON_THE_DAY),
        Section("Please write down for us", _questions(asks_fresh_air=fresh_air), "questions"),
        Section(SIGNED, tuple(each for row in _WHO_SIGNS for each in row), "signature"),
    ]


def _questions(*, asks_fresh_air: bool) -> tuple[str, ...]:
    first, cleaners, *others = _QUESTIONS
    return (first, _OFF_SINCE if asks_fresh_air else cleaners, *others)


def facts(notice: Notice) -> list[tuple[str, str]]:
    """The head of the page. The sender is written in by hand where it was not given; a place never is: it
    would be the wrong house.
    """
    pairs = [
        ("Visit", f"{when(notice.visit, notice.zone)}, local time"),
        ("Place", notice.site),
        (_SENDER, notice.firm),
        (_QUESTIONS_TO, notice.contact),
    ]
    return [(label, words) for label, words in pairs if words or label in (_SENDER, _QUESTIONS_TO)]


def when(moment: Moment, zone: str) -> str:
    """`Tuesday, December 1, 2026, 9:00 am` where people write it so, or `Tuesday 1 December 2026, 09:00 (9:00
    am)`: nobody takes evening for morning.
    """
    local = moment.local
    half = "am" if local.hour < 12 else "pm"
    clock = f"{local.hour % 12 or 12}:{local:%M} {half}"
    if zone.startswith(_MONTH_FIRST):
        day = f"{_DAYS[local.weekday()]}, {_MONTHS[local.month - 1]} {local.day}, {local.year}"
        return f"{day}, {clock}"
    return (
        f"{_DAYS[local.weekday()]} {local.day} {_MONTHS[local.month - 1]} {local.year}, {local:%H:%M}"
        f" ({clock})"
    )


def text(notice: Notice) -> str:
    """The page for a letter or a message, lines of at most 78 characters."""
    return "\n".join(_text_lines(notice)) + "\n"


def html_page(notice: Notice) -> str:
    """The page on its own, without anything loaded from elsewhere; printed, it fills one sheet."""
    head = "".join(
        f"<dt>{html.escape(label)}</dt><dd{'' if words else _BLANK}>{html.escape(tied(words))}</dd>"
        for label, words in facts(notice)
    )
    body = "".join(_html_section(each) for each in sections(notice))
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{TITLE}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n<main>\n<h1>{TITLE}</h1>\n<dl>{head}</dl>\n{body}"
        f"<p>{html.escape(tied(_LOCAL))}</p>\n<footer>{html.escape(FOOT)}</footer>\n</main>\n</body>\n</html>\n"
    )


def pdf(notice: Notice, at: Moment) -> bytes:
    """The page on letter paper, made at `at`: in type that leaves it one page.

    The same input gives the same bytes.
    """
    for size, row in _ROOMS:
        letter = _drawn(notice, at, size, row)
        file = letter.file()
        if letter.pages == 1:
            break
    return file


def _drawn(notice: Notice, at: Moment, size: float, row: float) -> Letter:
    letter = Letter(TITLE, TITLE, FOOT, at.instant)
    letter.paragraph(Line(TITLE, bold=True, size=20))
    letter.space(2)
    told = [(label, words) for label, words in facts(notice) if words]
    letter.fields(2, [(label, [Line(words, bold=label == "Visit", size=size)]) for label, words in told])
    for label in (label for label, words in facts(notice) if not words):
        pen.row(letter, row, pen.Blank(_ASKED_OF_SENDER[label], INNER, size=size))
    for each in sections(notice):
        letter.heading(each.title)
        _on_paper(letter, each, size, row)
    letter.space(1)
    letter.paragraph(Line(_LOCAL, soft=True, size=SMALL))
    return letter


def _on_paper(letter: Letter, section: Section, size: float, row: float) -> None:
    if section.kind == "signature":
        for left, right in _WHO_SIGNS:
            blanks = pen.Blank(left, 108, size=size), pen.Blank(right, INNER - 108, size=size)
            pen.row(letter, row + 1, *blanks)
        return
    for point in section.points:
        if section.kind == "questions":
            pen.row(letter, row, pen.Blank(point, INNER, size=size))
        else:
            top = letter.y
            letter.paragraph(Line(point, size=size), indent=5)
            letter.say(_BULLET_X, top + size * 0.335, Line("\N{BULLET}", size=size))
        letter.space(0.45)


def _text_lines(notice: Notice) -> Iterator[str]:
    yield from (TITLE.upper(), "")
    for label, words in facts(notice):
        yield from _wrapped(f"{label + ':':<11}", words or "_" * 40)
    for each in sections(notice):
        yield from ("", *_wrapped("", each.title))
        for point in each.points:
            if each.kind != "list":
                yield f"  {point}:"
                yield f"    {'_' * 40}"
            else:
                yield from _wrapped("  - ", point)
    yield from ("", *_wrapped("", _LOCAL), *_wrapped("", FOOT))


def _wrapped(first: str, words: str) -> Sequence[str]:
    lines = textwrap.wrap(tied(words), _WIDTH, initial_indent=first, subsequent_indent=" " * len(first))
    return [line.replace(TIE, " ") for line in lines]


def _html_section(section: Section) -> str:
    title = f"<h2>{html.escape(tied(section.title))}</h2>"
    if section.kind != "list":
        rows = "".join(f"<dt>{html.escape(tied(point))}</dt><dd></dd>" for point in section.points)
        return f'{title}<dl class="write">{rows}</dl>\n'
    return f"{title}<ul>{''.join(f'<li>{html.escape(tied(point))}</li>' for point in section.points)}</ul>\n"


_BULLET_X: Final = MARGIN + 1.5
"""Millimeters from the left edge of the sheet, inside the indent of a point."""

_STYLE: Final = (
    "body{font:17px/1.45 system-ui,sans-serif;color:#121820;background:#fff;margin:0}"
    "main{max-width:44rem;margin:0 auto;padding:1.2rem}h1{font-size:1.7rem;margin:.2rem 0 1rem}"
    "h2{font-size:1.1rem;margin:1.2rem 0 .3rem}ul{margin:.2rem 0;padding-left:1.3rem}li{margin:.25rem 0}"
    "dl{display:grid;grid-template-columns:max-content 1fr;gap:.2rem 1rem;margin:0}"
    "dt{color:#545c66}dd{margin:0}.write{grid-template-columns:1fr}"
    ".write dd,.blank{border-bottom:1px solid #545c66;height:1.7rem}"
    "footer{color:#545c66;margin-top:1rem}@page{size:letter;margin:12mm}"
    "@media print{body{font-size:10.5pt;line-height:1.3}main{padding:0;max-width:none}"
    ".write dd{height:1.2rem}}"
)
