"""QR codes and Code 128 as plain data, checked against zxing-cpp and python-qrcode's own scoring."""

import pytest
import zxingcpp
from barcode.codex import Code128
from hypothesis import given
from label_scanner import BASE, CROCKFORD, numbers, scan, scan_bars
from PIL import Image
from qrcode.constants import ERROR_CORRECT_H, ERROR_CORRECT_Q
from qrcode.main import QRCode
from qrcode.util import lost_point

from bailee.errors import Malformed
from bailee.labels.drawing import Symbol
from bailee.labels.raster import symbol_image
from bailee.labels.symbols import ALPHANUMERIC, BARS_QUIET, MAX_QR_TEXT, Matrix, code128, qr, qr_text

LONGEST_BASE = "https://" + "a" * (MAX_QR_TEXT - len("/S/S7K3M9Q2XF4P") - len("https://"))

# Alphanumeric and byte capacities at level Q and H, ISO/IEC 18004 table 7, recomputed from python-qrcode.
CAPACITY_Q = {1: 16, 2: 29, 3: 47, 4: 67, 5: 87}
CAPACITY_H = {1: 10, 2: 20, 3: 35, 4: 50, 5: 64}
BYTES_Q = {1: 11, 2: 20, 3: 32, 4: 46, 5: 60}


def drawn(matrix: Matrix, module: int = 4) -> Image.Image:
    """Draw a QR code with its quiet zone."""
    image = symbol_image(Symbol(0, 0, module, matrix))
    paper = Image.new("1", (image.width + 8 * module, image.height + 8 * module), 1)
    paper.paste(image, (4 * module, 4 * module))
    return paper


def modules(matrix: Matrix) -> list[list[bool]]:
    """Give a QR code as python-qrcode does."""
    return [[sign == "1" for sign in f"{row:0{matrix.size}b}"] for row in matrix.rows]


def library(text: str, matrix: Matrix, mask: int) -> list[list[bool]]:
    """Let python-qrcode draw the same text, version and level under a given mask."""
    level = ERROR_CORRECT_H if matrix.level == "H" else ERROR_CORRECT_Q
    code = QRCode(version=matrix.version, error_correction=level, border=0, mask_pattern=mask)
    code.add_data(text, optimize=0)
    code.make(fit=False)
    return [[bool(module) for module in row] for row in code.get_matrix()]


@given(numbers("S"))
def test_any_number_is_read_back(number: str) -> None:
    """A number would scan as another one, or not at all."""
    text = qr_text(BASE, number)
    matrix = qr(text)
    (seen,) = scan(drawn(matrix))
    assert (seen.text, seen.level, seen.version, seen.unharmed) == (text, matrix.level, matrix.version, True)


@pytest.mark.parametrize("version", CAPACITY_Q)
def test_version_is_smallest_at_q_and_raised_to_h(version: int) -> None:
    """Modules would be smaller than they need be, or protection given away that costs nothing."""
    sample = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789" * 3
    longest = qr(sample[: CAPACITY_Q[version]])
    assert (longest.version, longest.level) == (version, "Q")
    both = qr(sample[: CAPACITY_H[version]])
    fits_below = CAPACITY_H[version] <= CAPACITY_Q.get(version - 1, 0)
    assert (both.version, both.level) == ((version - 1, "Q") if fits_below else (version, "H"))
    (seen,) = scan(drawn(both))
    assert (seen.version, seen.level) == (both.version, both.level)
    over = CAPACITY_H[version] + 1
    if not over <= CAPACITY_Q.get(version - 1, 0):
        assert (qr(sample[:over]).version, qr(sample[:over]).level) == (version, "Q")


def test_alphanumeric_mode() -> None:
    """The symbol would be in byte mode, hence a version larger, with smaller modules."""
    text = qr_text(BASE, "S7K3M9Q2XF4P")
    (seen,) = scan(drawn(qr(text)))
    assert len(text) > BYTES_Q[seen.version]  # byte mode could not hold it in this version


@pytest.mark.slow
@given(numbers("S"))
def test_mask_has_least_penalty(number: str) -> None:
    """A symbol would carry large blotches or false finder patterns (ISO/IEC 18004 7.8.3), scored by
    python-qrcode.
    """
    text = qr_text("https://c.example", number)
    matrix = qr(text)
    (seen,) = scan(drawn(matrix))
    scores = [lost_point(library(text, matrix, mask)) for mask in range(8)]
    assert seen.mask == scores.index(min(scores))
    assert modules(matrix) == library(text, matrix, seen.mask)


def test_runs_cover_every_dark_module() -> None:
    """A vector label would miss modules."""
    matrix = qr("HTTPS://EXAMPLE.ORG/")
    filled = [[False] * matrix.size for _ in range(matrix.size)]
    for x, y, length in matrix.runs():
        filled[y][x : x + length] = [True] * length
    assert filled == modules(matrix)


@given(numbers("E"))
def test_bars_are_read_back(number: str) -> None:
    """A hand scanner at the dock would type a different number than is printed."""
    bars = code128(number)
    quiet, wide, high = BARS_QUIET * 3, bars.size * 3, 60
    row = Image.new("1", (bars.size, 1), 1)
    row.putdata([module == "0" for module in bars.modules])
    paper = Image.new("1", (wide + 2 * quiet, high + 20), 1)
    paper.paste(row.resize((wide, high), Image.Resampling.NEAREST), (quiet, 10))
    assert [text for text, _ in scan_bars(paper)] == [number]
    assert "".join("1" * n for _, n in bars.runs()) == bars.modules.replace("0", "")


def test_bars_agree_with_a_second_encoder() -> None:
    """Start, check or stop of the bar code would be wrong in a way one forgiving reader overlooks."""
    ours = code128("E7K3M9Q2XF4P")
    theirs = zxingcpp.create_barcode("E7K3M9Q2XF4P", zxingcpp.BarcodeFormat.Code128).to_image(
        scale=1, add_quiet_zones=False
    )
    row = memoryview(theirs).tolist()[0]
    assert ours.modules == "".join("0" if pixel else "1" for pixel in row)
    assert Code128("E7K3M9Q2XF4P").build() == [ours.modules]


def test_address_is_raised_to_upper_case() -> None:
    """A phone's camera would open another page than the label's."""
    number = "S7K3M9Q2XF4P"
    assert qr_text("https://custody.example.org", number) == "HTTPS://CUSTODY.EXAMPLE.ORG/S/S7K3M9Q2XF4P"
    assert qr_text("https://custody.example.org/", number) == "HTTPS://CUSTODY.EXAMPLE.ORG/S/S7K3M9Q2XF4P"
    assert qr_text("http://127.0.0.1:8765", number) == "HTTP://127.0.0.1:8765/S/S7K3M9Q2XF4P"
    assert (
        qr_text("https://example.org/LAB-2", "E" + number[1:]) == "HTTPS://EXAMPLE.ORG/LAB-2/E/E7K3M9Q2XF4P"
    )


@pytest.mark.parametrize(
    "base",
    [
        "https://example.org/lab",
        "https://example.org/LAB?A=B",
        "https://example.org/#TOP",
        "https://clerk@example.org",
        "https://my_host.example",
        "https://[::1]:8765",
        "https://example.org/A B",
        "https://exa\nmple.org",
        "https://straße.example",
        "https://kıt.example",
        "https://example.org:99999",
        "https://example.org:eighty",
        "https://",
        "ftp://example.org",
        "example.org",
        "",
    ],
)
def test_unfit_addresses_are_refused(base: str) -> None:
    """A thousand labels would be printed that open nothing, or a stranger's page."""
    with pytest.raises(Malformed) as caught:
        qr_text(base, "S7K3M9Q2XF4P")
    assert caught.value.code == "label-address"


def test_longest_address() -> None:
    """An address one character too long would shrink the symbol or crowd out the printed number."""
    text = qr_text(LONGEST_BASE, "S7K3M9Q2XF4P")
    assert len(text) == MAX_QR_TEXT
    (seen,) = scan(drawn(qr(text)))
    assert (seen.text, seen.version) == (text, 5)
    with pytest.raises(Malformed) as caught:
        qr_text(LONGEST_BASE + "a", "S7K3M9Q2XF4P")
    assert (caught.value.code, caught.value.facts["longest"]) == ("label-address-long", len(LONGEST_BASE))


@pytest.mark.parametrize("text", ["", "https", "A_B", "Ä", "A" * (MAX_QR_TEXT + 1)])
def test_unfit_text_is_refused(text: str) -> None:
    """The symbol would fall into byte mode, or into a version that no label has room for."""
    with pytest.raises(Malformed) as caught:
        qr(text)
    assert caught.value.code == "label-text"


@pytest.mark.parametrize("text", ["", "Ä", "A\n"])
def test_unfit_bars_are_refused(text: str) -> None:
    """A bar code would type a line break into the clerk's form."""
    with pytest.raises(Malformed) as caught:
        code128(text)
    assert caught.value.code == "label-text"


def test_numbers_need_nothing_beyond_alphanumeric() -> None:
    """A number could be issued that no label can carry."""
    assert set(CROCKFORD) <= ALPHANUMERIC
