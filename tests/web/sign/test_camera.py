"""A label before the camera: one that the program prints, filmed, and read by software of others' making.

Chromium on Linux has no `BarcodeDetector` (it has one on Android, ChromeOS and macOS). One stands in here
that is given what the app gives to a real one, the film of the camera, and reads it with zxing-cpp.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
import zxingcpp
from PIL import Image

import programs
from bailee.domain.numbers import grouped
from bailee.labels import single
from bailee.labels.drawing import Label
from bailee.labels.symbols import qr_text

if TYPE_CHECKING:
    from pathlib import Path

    from phones import Firm, Phone
    from playwright.sync_api import Browser

pytestmark = pytest.mark.slow

DETECTOR = """globalThis.BarcodeDetector = class {
    static getSupportedFormats = async () => ["qr_code", "code_128"];
    async detect(video) {
        const canvas = new OffscreenCanvas(video.videoWidth, video.videoHeight);
        canvas.getContext("2d").drawImage(video, 0, 0);
        const file = await canvas.convertToBlob();
        const bytes = new Uint8Array(await file.arrayBuffer());
        const letters = Array.from(bytes, each => String.fromCharCode(each)).join("");
        return (await readCodes(btoa(letters))).map(rawValue => ({ rawValue }));
    }
};"""
STREAMS = """(() => { const get = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
    globalThis.streams = [];
    navigator.mediaDevices.getUserMedia = async asked => {
        const stream = await get(asked);
        streams.push(stream);
        return stream;
    }; })()"""
"""Remembers what the camera gave, to see whether it is let go."""
BUSY = """navigator.mediaDevices.getUserMedia = async () => {
    throw new DOMException("", "NotReadableError");
};"""
"""What browsers say when another program has the camera (W3C Media Capture 10.2); none does it on demand."""


def film(picture: Image.Image, file: Path) -> None:
    """Some frames of it on a gray table, 640 by 480 (YUV4MPEG2, as Chromium's fake camera plays it)."""
    table = Image.new("L", (640, 480), 150)
    table.paste(picture, ((640 - picture.width) // 2, (480 - picture.height) // 2))
    frame = b"FRAME\n" + table.tobytes() + bytes([128]) * (320 * 240 * 2)
    file.write_bytes(b"YUV4MPEG2 W640 H480 F10:1 Ip A1:1 C420jpeg\n" + frame * 10)


def read(picture: str) -> list[str]:
    """The codes on a picture."""
    seen = Image.open(io.BytesIO(base64.b64decode(picture))).convert("L")
    return [each.text for each in zxingcpp.read_barcodes(seen, formats=zxingcpp.BarcodeFormat.QRCode)]


@pytest.fixture(scope="module")
def samples(firm: Firm) -> list[str]:
    """Cassettes of a lot."""
    return firm.field.lot(2)[1]


@pytest.fixture(scope="module")
def filming(
    firm: Firm, browser: Browser, samples: list[str], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Phone]:
    """A phone whose camera sees the label of the first cassette."""
    number = samples[0]
    png = single.png(Label(number, qr_text("https://custody.example.org", number), ("Lot L42K 0117",)))
    label = Image.open(io.BytesIO(png)).convert("L")
    file = tmp_path_factory.mktemp("film") / "label.y4m"
    film(label.resize((label.width * 2, label.height * 2)) if label.width < 300 else label, file)
    kind = browser.browser_type
    flags = ["--use-fake-device-for-media-stream", f"--use-file-for-fake-video-capture={file}"]
    with kind.launch(
        executable_path=programs.chromium(kind, films=True), args=[*programs.FLAGS, *flags]
    ) as other:
        phone = firm.phone(other, "Finn Ash", "inspector")
        prepare(phone)
        yield phone
        firm.phones.remove(phone)
        phone.context.close()


def prepare(phone: Phone, *scripts: str) -> None:
    """The stand-in, from the next page on."""
    phone.context.expose_function("readCodes", read)
    for each in (DETECTOR, *scripts):
        phone.context.add_init_script(each)


def test_a_filmed_label_is_the_number_that_is_signed(filming: Phone, samples: list[str]) -> None:
    """A number typed with gloves on is the wrong one now and then; and a camera that stays on empties the
    battery before the pump has run.
    """
    filming.context.grant_permissions(["camera"])
    filming.context.add_init_script(STREAMS)
    filming.page.reload()
    filming.heading("Finn Ash")
    filming.open_visit()
    filming.tap("Next cassette")
    filming.heading("Cassette")
    filming.tap("Scan with the camera")
    filming.see("not expired")
    number = filming.page.get_by_label("Number on the label")
    assert number.input_value().endswith(samples[0])
    assert filming.page.evaluate("streams.flatMap(s => s.getTracks()).map(t => t.readyState)") == ["ended"]
    filming.page.get_by_role("button", name="Scan with the camera").wait_for()
    filming.pick("Kind", "indoor")
    filming.pick("Room", "office")
    filming.type("Flow before the run", "15.0")
    filming.tap("Start the pump")
    filming.firm.later(5)
    filming.tap("Stop the pump")
    filming.pick("Are the covers back on?", "Yes")
    filming.tap("Sign: collected")
    filming.heading("Visit")
    filming.see(grouped(samples[0]))
    (said,) = [row["data"] for row in filming.rows() if row["act"] == "collected"]
    assert (said["sample"], said["entered"]) == (samples[0], "scan")
    assert filming.complaints == []


@pytest.mark.parametrize(
    ("setting", "sentence"),
    [
        ("denied", "The camera is not allowed here."),
        ("busy", "Another app uses the camera."),
        ("none", "No camera was found."),
    ],
)
def test_a_camera_that_does_not_film_leaves_the_hand(
    firm: Firm, browser: Browser, filming: Phone, setting: str, sentence: str
) -> None:
    """Denied once by mistake, taken by another app, or broken: whoever is not told stands before a black
    square while the cassette waits.
    """
    has_camera = setting == "denied"
    seat = filming.context.browser if has_camera else browser
    assert seat
    phone = firm.phone(seat, "Cleo Marsh", "inspector")
    prepare(phone, *([BUSY] if setting == "busy" else []))
    permission = {"permission": {"name": "camera"}, "setting": "denied" if has_camera else "granted"}
    phone.context.new_cdp_session(phone.page).send("Browser.setPermission", permission)
    phone.page.reload()
    phone.heading("Cleo Marsh")
    phone.open_visit()
    phone.tap("Next cassette")
    phone.heading("Cassette")
    phone.tap("Scan with the camera")
    phone.see(sentence)
    phone.type("Number on the label", "S5VT")
    phone.see("has 4 characters")
    assert phone.complaints == []
    firm.phones.remove(phone)
    phone.context.close()
