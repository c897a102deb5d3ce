"""The key card of an organization: its root key and the log's, as lines to type and QR codes, on 85 x 120 mm.

It goes into a letter, signed in ink, apart from any auditor's file: a key that comes with the file it checks
proves nothing. A line of a key checks itself (`ledger.fingerprint`): a slip is named with its line.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

from bailee.domain.moments import Moment
from bailee.labels.drawing import Drawing, Grid, Label, Mark, Separator, Symbol, Text, Typeface, fitted, grid
from bailee.labels.pdf import DPI, Paper
from bailee.labels.placing import refuse_small
from bailee.labels.symbols import QR_QUIET, qr_of_bytes
from bailee.ledger import fingerprint
from bailee.ledger.base64url import unb64u
from bailee.ledger.checkpoint import VerifierKey, format_vkey
from bailee.presentation import words

SIZE_MM: Final = (85, 120)
_MARGIN_MM: Final = 5
_BOX_MM: Final = 30
"""A QR code with its quiet zone."""
_MODULE_MM: Final = 0.52
_SMALLEST_MM: Final = 1.5
_LINE_MM, _LEADING_MM = 3.6, 5.2
_ROOT_MM, _LOG_MM, _HAND_MM = 16.2, 51, 86
"""Where the two keys begin, and what is written by hand."""
_IN_INK: Final = (
    (101, (("checked by telephone with", 80),)),
    (107.5, (("on", 30), ("printed name", 80))),
    (114, (("signature", 54), ("date", 80))),
)
"""Rows to write in: the words, and where the line after them ends."""
_TO_TYPE: Final = (
    "To type a key: the name, = and its five lines one after the other.",
    "The last character of each line checks it: a wrong line is named.",
)


def pdf(organization: str, root: str, log: VerifierKey, at: Moment, called: str = "") -> bytes:
    """The card as a PDF page of its size, made at `at`; `root` is the name of the root key.

    `called`: the name of the organization for people.

    The same input gives the same bytes.
    Raises Malformed `label-module` or `label-room` for a log whose name is too long for a card.
    """
    page = grid(DPI, *SIZE_MM)
    paper = Paper(page, f"Key card of {organization}", at.instant)
    paper.add_page()
    card = _Card(page, paper.face(Label("", "")))
    marks = (
        *card.head(called or organization, at),
        *card.key(
            _ROOT_MM,
            "ROOT KEY",
            organization,
            fingerprint.lines(unb64u(root)),
            f"{fingerprint.THUMBPRINT}{root}",
        ),
        *card.key(_LOG_MM, "LOG KEY", log.name, fingerprint.lines(log.public), format_vkey(log)),
        *card.by_hand(words.demo_in_latin(log.name)),
    )
    paper.draw(Drawing(page, "Key card", "", marks))
    return paper.file()


class _Card:
    def __init__(self, page: Grid, face: Typeface) -> None:
        self._page, self._face = page, face

    def head(self, organization: str, at: Moment) -> Iterator[Mark]:
        yield self._text(_MARGIN_MM, 7.6, "KEY CARD", 3.6, 40, bold=True)
        printed = self._text(0, 7.6, f"printed {at.local.date().isoformat()}", 2.5, 30)
        yield replace(printed, x=self._page.dots(SIZE_MM[0] - _MARGIN_MM) - printed.width)
        yield self._text(_MARGIN_MM, 11.2, organization, 3.4, 75, bold=True)
        said = "Compare before you trust a file. Comes apart from the file."
        yield self._text(_MARGIN_MM, 14.6, said, 2.6, 75)

    def key(self, top: float, kind: str, name: str, lines: Sequence[str], inside: str) -> Iterator[Mark]:
        """One key: what it is, whose, its QR code, its lines."""
        yield self._rule(top)
        heading = self._text(_MARGIN_MM, top + 4, kind, 2.8, 30, bold=True)
        yield heading
        left = _MARGIN_MM + float(self._page.mm(heading.width)) + 2
        yield self._text(left, top + 4, f"{name}=", 2.8, SIZE_MM[0] - _MARGIN_MM - left)
        matrix = qr_of_bytes(inside)
        module = min(self._page.dots(_MODULE_MM), self._page.dots(_BOX_MM) // (matrix.size + 2 * QR_QUIET))
        refuse_small(self._page, module)
        quiet = QR_QUIET * module
        upper = self._page.dots(top + 5) + quiet
        yield Symbol(self._page.dots(_MARGIN_MM - 2) + quiet, upper, module, matrix)
        for n, line in enumerate(lines):
            yield self._text(36, top + 10 + n * _LEADING_MM, line, _LINE_MM, SIZE_MM[0] - _MARGIN_MM - 36)

    def by_hand(self, demo: str) -> Iterator[Mark]:
        """How to type it; that its keys prove nothing, if so; who compared it with whom, in ink."""
        yield self._rule(_HAND_MM)
        for n, said in enumerate(filter(None, (*_TO_TYPE, demo))):
            yield self._text(_MARGIN_MM, _HAND_MM + 4 + n * 3.4, said, 2.5, 75, bold=said == demo)
        for base, fields in _IN_INK:
            left = float(_MARGIN_MM)
            for field, end in fields:
                text = self._text(left, base, field, 2.7, 40)
                yield text
                start = left + float(self._page.mm(text.width)) + 1
                yield self._rule(base + 0.6, start, end - start)
                left = end + 1.5

    def _text(
        self, left: float, base: float, words: str, size: float, room: float, *, bold: bool = False
    ) -> Text:
        dots = self._page.dots
        return fitted(
            self._face,
            Text(dots(left), dots(base), dots(size), 0, words, bold),
            dots(room),
            dots(_SMALLEST_MM),
        )

    def _rule(
        self, top: float, left: float = _MARGIN_MM, width: float = SIZE_MM[0] - 2 * _MARGIN_MM
    ) -> Separator:
        dots = self._page.dots
        return Separator(dots(left), dots(top), dots(width), max(1, dots(0.2)))
