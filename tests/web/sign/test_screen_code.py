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
    found = modules.call("core/handover.js", "readCode", [[each, "take"] for each in (code, *bad)])
    assert found[0] == told
    assert [each["error"] for each in found[1:]] == ["code"] * len(bad)


def coded(modules: Modules, kind: str, **told: object) -> str:
    """What stands in a code that somebody made."""
    whole = {"origin": "ledger.example/test", "zone": "America/New_York", "person": "Ines Marlow"} | told
    (address,) = modules.call("core/handover.js", "written", [["https://ledger.example/sign/", kind, whole]])
    return str(address.partition(f"#{kind}/")[2])


@pytest.mark.parametrize(
    ("kind", "spoilt"),
    [
        ("see", {"statements": ["A" * 43, "B" * 43, "C" * 43]}),
        ("see", {"statements": ["A" * 43]}),
        ("see", {"statements": ["A" * 43, "A" * 43]}),
        ("take", {"statements": ["A" * 43, "B" * 43]}),
        ("take", {"zone": "Nowhere/At_All"}),
        ("take", {"zone": "-05:00"}),
    ],
)
def test_a_code_signs_for_no_more_than_is_on_the_screen(
    modules: Modules, kind: str, spoilt: dict[str, object]
) -> None:
    """Two cassettes are read, and the witness has signed for a third that never was; a zone that is none
    leaves the button dead.
    """
    samples = modules.call("core/numbers.js", "issue", [["sample"], ["sample"]])
    (form,) = modules.call("core/numbers.js", "issue", [["form"]])
    statements = ["A" * 43] if kind == "take" else ["A" * 43, "B" * 43]
    sound = {"form": form, "samples": samples, "statements": statements}
    codes = [coded(modules, kind, **sound), coded(modules, kind, **sound | spoilt)]
    good, bad = modules.call("core/handover.js", "readCode", [[each, kind] for each in codes])
    assert good["statements"] == statements
    assert bad["error"] == "code"


def test_a_code_of_another_form_is_seen_where_the_samples_are_known(modules: Modules) -> None:
    """The receipt is signed on another form, and on the right one the receiver never took them over."""
    found = modules.run(
        "core/handover.js",
        """(m) => {
            const visits = [{ form: "F1", samples: new Map([["S1", {}], ["S2", {}]]) }];
            const asked = [["F1", ["S1"]], ["F2", ["S1"]], ["F2", ["S9"]]];
            return asked.map(([form, samples]) => m.isOtherForm({ form, samples }, visits));
        }""",
    )
    assert found == [False, True, False]


@pytest.mark.parametrize(
    ("now", "ahead"), [("2027-12-31T00:00:00Z", 0), ("2026-12-01T12:00:00Z", 86_400), ("?", 0)]
)
def test_a_service_gets_no_token_for_later(modules: Modules, now: str, ahead: int) -> None:
    """Whoever shows a false time would be given a token that is valid next year, or end the app."""
    asked = modules.run(
        "core/service.js",
        """async (m, told) => {
            const asked = [];
            const headers = { get: () => "application/problem+json" };
            const json = async () => ({ code: "token-expired", now: told });
            const answer = { ok: false, status: 401, headers, json };
            const at = Date.parse("2026-11-30T12:00:00Z");
            const service = new m.Service({
              fetch: async () => answer, now: () => at, token: async (s) => (asked.push(s - at / 1000), "t"),
            });
            await service.get("/devices/me").catch(() => null);
            await service.get("/devices/me").catch(() => null);
            return asked;
        }""",
        now,
    )
    assert set(asked) <= {0, ahead}
