"""The code that one phone shows another is one that any reader reads."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

import pytest
import zxingcpp
from PIL import Image

if TYPE_CHECKING:
    from conftest import Modules

pytestmark = pytest.mark.slow


def picture(rows: list[list[bool]]) -> Image.Image:
    """The symbol with its quiet zone of four modules (ISO/IEC 18004 6.3.8), three dots a module."""
    size = len(rows) + 8
    image = Image.new("L", (size, size), 255)
    for y, row in enumerate(rows, 4):
        for x, is_dark in enumerate(row, 4):
            if is_dark:
                image.putpixel((x, y), 0)
    return image.resize((size * 3, size * 3), Image.Resampling.NEAREST)


LONGEST = {
    1: 17,
    2: 32,
    6: 134,
    7: 154,
    9: 230,
    10: 271,
    14: 458,
    20: 858,
    21: 929,
    27: 1465,
    32: 1952,
    33: 2068,
    40: 2953,
}
"""Bytes that a version holds at level L (ISO/IEC 18004 table 7): those at which something changes in the
drawing."""


def test_another_reader_reads_every_kind_of_size(modules: Modules) -> None:
    """A code that only our own reader reads ends the hand-over in the basement (zxing-cpp, as a reader of
    others' making).
    """
    chance = random.Random(11)
    texts = ["".join(chance.choices("abcXYZ019_-#/:.", k=length)) for length in LONGEST.values()]
    symbols = modules.call("core/qr.js", "symbol", [[each, n % 8] for n, each in enumerate(texts)])
    for version, text, rows in zip(LONGEST, texts, symbols, strict=True):
        assert len(rows) == version * 4 + 17
        (found,) = zxingcpp.read_barcodes(picture(rows), formats=zxingcpp.BarcodeFormat.QRCode)
        assert found.text == text, version
    assert modules.call("core/qr.js", "symbol", [["x" * 2954]]) == [None]


def test_it_is_the_symbol_that_another_maker_draws(modules: Modules) -> None:
    """Readers mend what a maker does wrong, until the sun shines on the screen (python-qrcode, same mask)."""
    import qrcode
    from qrcode.util import MODE_8BIT_BYTE, QRData

    texts = ["https://ledger.example/sign/#take/" + "eyJm" * n for n in (1, 20, 60, 150)]
    for n, text in enumerate(texts):
        made = qrcode.QRCode(error_correction=qrcode.constants.ERROR_CORRECT_L, mask_pattern=n, border=0)
        made.add_data(QRData(text.encode(), mode=MODE_8BIT_BYTE))
        made.make(fit=True)
        assert modules.call("core/qr.js", "symbol", [[text, n]]) == [made.get_matrix()]


def test_a_code_that_was_changed_is_not_taken_for_one(modules: Modules) -> None:
    """What comes from a stranger's screen must not end in a blank screen, or in a number that is none."""
    told = {
        "origin": "ledger.example/test",
        "form": "F7K3M9Q2XF4P",
        "zone": "America/New_York",
        "statements": ["A" * 43],
        "samples": [],
        "person": "Ines Marlow",
    }
    samples = modules.call("core/numbers.js", "issue", [["sample"], ["sample"]])
    (form,) = modules.call("core/numbers.js", "issue", [["form"]])
    told |= {"samples": samples, "form": form}
    (address,) = modules.call("core/handover.js", "written", [["https://ledger.example/sign/", "take", told]])
    beginning, _, code = address.partition("#take/")
    assert beginning == "https://ledger.example/sign/"
    bad = ["", "e30", code[:-3], code[3:], "bnVsbA", code + "="]
    found = modules.call("core/handover.js", "readCode", [[code], *([each] for each in bad)])
    assert found[0] == told
    assert [each["error"] for each in found[1:]] == ["code"] * len(bad)
