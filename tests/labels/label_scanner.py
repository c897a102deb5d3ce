"""Reading labels back with software that is not ours, and the invented numbers to put on them.

zxing-cpp decodes ISO/IEC 18004 and ISO/IEC 15417; PDFium renders PDF pages.
"""

import io
import re
from dataclasses import dataclass
from xml.etree import ElementTree as ET

import pypdfium2
import zxingcpp
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from bailee.labels.drawing import Label
from bailee.labels.symbols import qr_text

BASE = "https://custody.example.org"
LINES = ("Lot L42K 0117", "Use by 2027-03-31")
# Crockford's base 32 alphabet, https://www.crockford.com/base32.html, quoted from memory.
CROCKFORD = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"


def numbers(kind: str) -> st.SearchStrategy[str]:
    """Make numbers of one kind; their check character is not computed, for no label looks at it."""
    return st.text(CROCKFORD, min_size=11, max_size=11).map(lambda rest: kind + rest)


def label(number: str = "S7K3M9Q2XF4P", lines: tuple[str, ...] = LINES, base: str = BASE) -> Label:
    """Make a label with a plainly invented number."""
    return Label(number, qr_text(base, number), lines)


@dataclass(frozen=True)
class Seen:
    """What a scanner says of one symbol; `corners` are left, top, right, bottom, in pixels."""

    text: str
    level: str
    version: int
    mask: int
    unharmed: bool
    corners: tuple[int, int, int, int]


def scan(picture: Image.Image) -> list[Seen]:
    """Read every QR code."""
    return [
        Seen(
            found.text,
            found.ec_level,
            int(found.extra["Version"]),
            int(found.extra["DataMask"]),
            found.extra["UEC"] == 1.0,
            _corners(found),
        )
        for found in zxingcpp.read_barcodes(picture.convert("L"), formats=zxingcpp.BarcodeFormat.QRCode)
    ]


def bars_in(picture: Image.Image) -> list[str]:
    """Read every symbol that is no QR code, of whatever kind the decoder knows; but for two without a check
    character, which it sees between the modules of one QR code in 250 (measured).
    """
    kinds = zxingcpp.BarcodeFormat
    found = zxingcpp.read_barcodes(picture.convert("L"))
    return [each.text for each in found if each.format not in (kinds.QRCode, kinds.Codabar, kinds.ITF)]


def scan_bars(picture: Image.Image) -> list[tuple[str, tuple[int, int, int, int]]]:
    """Read every Code 128: what it says, and left, top, right, bottom, in pixels."""
    found = zxingcpp.read_barcodes(picture.convert("L"), formats=zxingcpp.BarcodeFormat.Code128)
    return [(symbol.text, _corners(symbol)) for symbol in found]


def opened(png: bytes) -> Image.Image:
    """Open the bytes of a PNG."""
    return Image.open(io.BytesIO(png))


def pages(pdf: bytes, dpi: int) -> list[Image.Image]:
    """Render every page of a PDF."""
    document = pypdfium2.PdfDocument(pdf)
    return [page.render(scale=dpi / 72).to_pil().convert("L") for page in document]


def placed_images(pdf: bytes) -> list[tuple[Image.Image, tuple[float, ...]]]:
    """Give the images of the first page and their matrices: width, 0, 0, height, left, bottom, in points."""
    page = pypdfium2.PdfDocument(pdf)[0]
    images = page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_IMAGE])
    return [(image.get_bitmap().to_pil().convert("L"), image.get_matrix().get()) for image in images]


def page_text(pdf: bytes, page: int = 0) -> str:
    """Give the text layer of a page."""
    return pypdfium2.PdfDocument(pdf)[page].get_textpage().get_text_range()


def rasterised(svg: str, scale: int = 1) -> Image.Image:
    """Fill the symbols of an SVG, and nothing else, on a one-bit image of `scale` pixels a unit."""
    root = ET.fromstring(svg)
    _, _, width, height = map(int, root.attrib["viewBox"].split())
    paper = Image.new("1", (width * scale, height * scale), 1)
    pen = ImageDraw.Draw(paper)
    for path in root.iter("{http://www.w3.org/2000/svg}path"):
        for box in re.findall(r"M(\d+) (\d+)h(\d+)v(\d+)h-\d+z", path.attrib["d"]):
            x, y, wide, high = (int(value) * scale for value in box)
            pen.rectangle((x, y, x + wide - 1, y + high - 1), fill=0)
    return paper


def _corners(found: zxingcpp.Barcode) -> tuple[int, int, int, int]:
    where = found.position
    points = [where.top_left, where.top_right, where.bottom_left, where.bottom_right]
    across, down = [point.x for point in points], [point.y for point in points]
    return min(across), min(down), max(across), max(down)
