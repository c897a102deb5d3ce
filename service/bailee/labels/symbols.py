"""The symbols on labels and papers, as plain data: a QR code (ISO/IEC 18004), a Code 128 (ISO/IEC 15417).

A symbol holds modules, not millimeters: whoever draws it chooses how many whole dots a module gets and
adds the quiet zone. The QR text is an upper-case address, because upper case, digits and a few signs
are QR's alphanumeric mode: two characters in 11 bits instead of 16, hence fewer and larger modules.

Clause numbers of both standards are quoted from memory (18004:2015, 15417:2007).
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Literal, cast
from urllib.parse import urlsplit

from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.labels.qr_mask import masked

ALPHANUMERIC = frozenset("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:")
"""The characters of alphanumeric mode, ISO/IEC 18004 table 5."""

QR_QUIET = 4
"""Light modules on every side of a QR code, ISO/IEC 18004 6.3.8."""

BARS_QUIET = 10
"""Light modules left and right of a Code 128, ISO/IEC 15417 4.2."""

MAX_QR_TEXT = 87
"""Characters that version 5 holds at level Q: the largest symbol that leaves a 50 x 25 mm label its text."""

Level = Literal["Q", "H"]


@frozen
class Matrix:
    """A QR code without its quiet zone; `rows` hold one bit a module, the leftmost highest, 1 is dark."""

    version: int
    level: Level
    rows: tuple[int, ...]

    @property
    def size(self) -> int:
        """Modules along one side."""
        return len(self.rows)

    def runs(self) -> Iterator[tuple[int, int, int]]:
        """Every horizontal run of dark modules: column, row, length."""
        for y, row in enumerate(self.rows):
            for x, length in _runs(f"{row:0{self.size}b}"):
                yield x, y, length


@frozen
class Bars:
    """A Code 128 without its quiet zones: one character a module, "1" is a bar."""

    modules: str

    @property
    def size(self) -> int:
        """Modules from the first bar to the last."""
        return len(self.modules)

    def runs(self) -> Iterator[tuple[int, int]]:
        """Every bar: first module, width in modules."""
        return _runs(self.modules)


def qr_text(base_url: str, number: str) -> str:
    """Return the address inside a label's QR code, such as HTTPS://CUSTODY.EXAMPLE.ORG/S/S7K3M9Q2XF4P.

    Scheme and host mean the same in either case (RFC 3986 6.2.2.1), so they are raised; a path does not,
    so a lower-case path is refused. `number` is a number already read by `bailee.domain`.
    Raises Malformed: `label-address`, `label-address-long`.
    """
    base = base_url.removesuffix("/")
    raised = _raised(base)
    if raised is None:
        raise Malformed(
            "This address cannot be put into a label: give http or https, a host and perhaps a path in upper"
            f" case, with only letters, digits and $ % * + - . / : in it (got {base_url!r}).",
            code="label-address",
            address=base_url,
        )
    text = f"{raised}/{number[:1]}/{number}"
    if len(text) > MAX_QR_TEXT:
        longest = MAX_QR_TEXT - (len(text) - len(raised))
        raise Malformed(
            f"This address is too long for a label that phones read well: use at most {longest} characters "
            f"(got {len(raised)}).",
            code="label-address-long",
            longest=longest,
            length=len(raised),
        )
    return text


def qr(text: str) -> Matrix:
    """Return the QR code of an alphanumeric text.

    The version is the smallest that holds the text at level Q (25 % of code words may be lost, ISO/IEC 18004
    6.5.1); when level H fits the same version it is used, since it costs no space. Raises Malformed
    `label-text` for other characters or more than MAX_QR_TEXT of them.
    """
    foreign = sorted(set(text) - ALPHANUMERIC)
    if foreign or not 0 < len(text) <= MAX_QR_TEXT:
        raise Malformed(
            f"A label's QR code takes 1 to {MAX_QR_TEXT} upper-case letters, digits and $ % * + - . / : or"
            " spaces.",
            code="label-text",
            characters=foreign,
            length=len(text),
        )
    version, level = _format(len(text))
    return Matrix(version, level, masked(text, version, level))


def qr_of_bytes(text: str) -> Matrix:
    """Return the QR code at level Q of any ASCII text, in byte mode, in the smallest version that holds it.

    Raises Malformed `label-text`.
    """
    from qrcode.constants import ERROR_CORRECT_Q
    from qrcode.exceptions import DataOverflowError
    from qrcode.main import QRCode
    from qrcode.util import MODE_8BIT_BYTE, QRData

    code = QRCode(error_correction=ERROR_CORRECT_Q, border=0)
    try:
        code.add_data(QRData(text.encode("ascii"), mode=cast("Literal[4]", MODE_8BIT_BYTE)), optimize=0)
        code.make()
    except (UnicodeEncodeError, ValueError, DataOverflowError) as error:
        raise Malformed(
            "This text cannot be put into a QR code: shorten it to at most 1,000 characters of ASCII.",
            code="label-text",
            length=len(text),
        ) from error
    rows = tuple(int("".join("1" if dark else "0" for dark in row), 2) for row in code.get_matrix())
    return Matrix(int(code.version or 0), "Q", rows)


def code128(text: str) -> Bars:
    """Return the Code 128 of a number.

    Raises Malformed `label-text` for characters outside printable ASCII.
    """
    from barcode.codex import Code128

    if not text or not text.isascii() or not text.isprintable():
        raise Malformed(
            "A bar code takes printable ASCII characters only.", code="label-text", length=len(text)
        )
    return Bars(Code128(text).build()[0])


def _raised(base: str) -> str | None:
    """Raise scheme and host to upper case.

    None when that would not be the same address, or not alphanumeric.
    """
    try:
        parts = urlsplit(base)
        web = parts.scheme in {"http", "https"} and parts.hostname and parts.port != 0
    except ValueError:
        return None
    raised = f"{parts.scheme.upper()}://{parts.netloc.upper()}{parts.path}"
    # Unicode has letters whose capital is ASCII, and urlsplit drops line breaks: neither may slip through.
    whole = base.isascii() and raised.upper() == base.upper()
    return raised if web and whole and set(raised) <= ALPHANUMERIC - {" "} else None


@cache
def _format(length: int) -> tuple[int, Level]:
    """In alphanumeric mode the length alone decides version and level."""
    from qrcode.constants import ERROR_CORRECT_H, ERROR_CORRECT_Q
    from qrcode.main import QRCode

    def smallest(level: int) -> int:
        code = QRCode(error_correction=level)
        code.add_data("A" * length, optimize=0)
        return int(code.best_fit())

    version = smallest(ERROR_CORRECT_Q)
    return version, "H" if smallest(ERROR_CORRECT_H) == version else "Q"


def _runs(modules: str) -> Iterator[tuple[int, int]]:
    at = modules.find("1")
    while at >= 0:
        end = modules.find("0", at)
        end = len(modules) if end < 0 else end
        yield at, end - at
        at = modules.find("1", end)
