"""The key card, measured in millimeters, decoded by zxing-cpp and typed back."""

import hashlib
import re

import pypdfium2
import pytest
import zxingcpp
from PIL import Image

from bailee.documents import key_card
from bailee.domain.moments import Moment
from bailee.errors import Malformed
from bailee.ledger.base64url import b64u
from bailee.ledger.checkpoint import KeyType, VerifierKey, format_vkey
from bailee.signing import vkeys
from bailee.verify import trust

ROOT = b64u(hashlib.sha256(b"key card example").digest())
# The public key of RFC 8032 7.1, test 1: a point that a reader of keys takes.
POINT = bytes.fromhex("d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a")
LOG = VerifierKey("demo.harrow-field.example/log1", KeyType.ED25519, POINT)
AT = Moment.parse("2026-11-29T23:30:00+09:00")


def card(org: str = "harrow-field", log: VerifierKey = LOG) -> bytes:
    """A card of invented keys."""
    return key_card.pdf(org, ROOT, log, AT)


def shown(pdf: bytes, dpi: int) -> Image.Image:
    """Its only page as a printer of so many dots puts it on paper."""
    (page,) = pypdfium2.PdfDocument(pdf)
    return page.render(scale=dpi / 72).to_pil().convert("L")


def typed(pdf: bytes) -> list[str]:
    """Both keys as somebody types them off the card: the name, = and five lines."""
    lines = [
        " ".join(line.split())
        for line in pypdfium2.PdfDocument(pdf)[0].get_textpage().get_text_range().splitlines()
    ]
    names = [
        found[1]
        for line in lines
        if (found := re.search(r"([a-z0-9./-]+=)$", line)) and "to type" not in line
    ]
    keys = [line for line in lines if re.match(r"[1-5] [0-9A-Z]{4}", line)]
    assert (len(names), len(keys)) == (2, 10)
    return [f"{names[0]}{' '.join(keys[:5])}", f"{names[1]}{' '.join(keys[5:])}"]


def test_what_is_typed_off_the_card_is_the_key() -> None:
    """An auditor types ten lines and is told that an honest file is somebody else's."""
    root, log = typed(card())
    assert root.startswith("harrow-field=1 XZC9 DZ11 1B2Z V 2 FB4P")
    assert trust.root(root) == ("harrow-field", ROOT)
    assert vkeys.read_log(log) == LOG
    for at, line in ((root.index("FB4P"), 2), (root.index("BM0B"), 4)):
        with pytest.raises(Malformed, match=f"Line {line} of the five lines"):
            trust.root(f"{root[:at]}7{root[at + 1 :]}")


@pytest.mark.parametrize("dpi", [203, 300, 600])
def test_what_is_scanned_off_the_card_is_the_key(dpi: int) -> None:
    """A QR code with other words than the lines beside it, or one that no program of ours takes."""
    found = zxingcpp.read_barcodes(shown(card(), dpi), formats=zxingcpp.BarcodeFormat.QRCode)
    texts = sorted(each.text for each in found)
    assert texts == [format_vkey(LOG), f"urn:ietf:params:oauth:jwk-thumbprint:sha-256:{ROOT}"]
    assert trust.root(f"harrow-field={texts[1]}") == ("harrow-field", ROOT)
    assert vkeys.read_log(texts[0]) == LOG
    for each, size in zip(sorted(found, key=lambda each: each.text), (22.5, 24.5), strict=True):
        side = (each.position.top_right.x - each.position.top_left.x) / dpi * 25.4
        assert side == pytest.approx(size, abs=0.75)


def test_the_card_is_85_by_120_and_keeps_its_margin() -> None:
    """A line cut at the edge is a key nobody can type."""
    (page,) = pypdfium2.PdfDocument(card())
    assert [side / 72 * 25.4 for side in page.get_size()] == [
        pytest.approx(85, abs=0.1),
        pytest.approx(120, abs=0.1),
    ]
    picture = shown(card("w" * 32), 300).point(lambda gray: 255 if gray < 128 else 0)
    edges = picture.getbbox()
    around = (edges[0], edges[1], picture.width - edges[2], picture.height - edges[3])
    assert min(around) >= 4.9 / 25.4 * 300
    said = page.get_textpage().get_text_range()
    for each in (
        "KEY CARD",
        "printed 2026-11-29",
        "Comes apart from the file.",
        "checked by telephone with",
        "on",
        "printed name",
        "signature",
        "date",
    ):
        assert each in said


def test_the_name_of_the_firm_stands_on_it_and_there_is_room_for_a_person() -> None:
    """Whoever files the card knows a code and no firm, and the name of who was called runs over the edge."""
    pdf = key_card.pdf("harrow-field", ROOT, LOG, AT, "Harrow Field Sampling (example)")
    page = pypdfium2.PdfDocument(pdf)[0]
    assert "Harrow Field Sampling (example)" in page.get_textpage().get_text_range()
    assert typed(pdf) == typed(card())
    layer = page.get_textpage()
    begin, count = layer.search("checked by telephone with").get_next()
    assert 80 - layer.get_charbox(begin + count - 1)[2] / 72 * 25.4 - 1 >= 40


def test_a_card_of_demonstration_keys_is_called_so() -> None:
    """A demonstration's card would be filed as a laboratory's."""
    assert "DEMO" in pypdfium2.PdfDocument(card())[0].get_textpage().get_text_range().upper()
    real = VerifierKey("harrow-field.example/log1", KeyType.ED25519, LOG.public)
    assert "DEMO" not in pypdfium2.PdfDocument(card(log=real))[0].get_textpage().get_text_range().upper()


def test_a_name_too_long_for_a_card_is_refused() -> None:
    """A QR code of modules too small to be read would be printed and filed."""
    long = VerifierKey("log.example/" + "x" * 300, KeyType.ED25519, LOG.public)
    with pytest.raises(Malformed) as caught:
        card(log=long)
    assert caught.value.code in {"label-room", "label-module"}
    assert card(log=VerifierKey("log.example/" + "x" * 40, KeyType.ED25519, LOG.public)) == card(
        log=VerifierKey("log.example/" + "x" * 40, KeyType.ED25519, LOG.public)
    )
