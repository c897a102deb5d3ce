"""No name, address or remark of a whole journey is anywhere but in the one table from which it
can be erased.
"""

from __future__ import annotations

import base64
import json
import logging
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from bailee.store import schema
from field import FIRM, LAB, Field

PERSONAL = (
    "Perpetua Example",
    "12 Invented Lane",
    "musty odor in the basement",
    "by the window",
    "Inspector Person",
    "Clerk Person",
    "Dock Person",
    "inspector phone",
    "called Ms Example twice",
    "left the porch light on",
)
"""Everything private that is said on the way."""

_PART = re.compile(r"[A-Za-z0-9_+/=-]{16,}")


def readings(data: bytes, depth: int = 3) -> Iterator[str]:
    """The bytes as text, and whatever in them is base64 of something, and what is in that."""
    text = data.decode("utf-8", "replace")
    yield text
    if depth:
        for part in _PART.findall(text):
            for start in (
                {0, *(at + 1 for at, each in enumerate(part) if each in "-_+/=")} if len(part) < 40 else (0,)
            ):
                piece = part[start:].rstrip("=").replace("+", "-").replace("/", "_")
                if len(piece) >= 16 and len(piece) % 4 != 1:
                    yield from readings(base64.urlsafe_b64decode(piece + "=" * (-len(piece) % 4)), depth - 1)


def found(data: bytes) -> set[str]:
    """Personal values in it, however it is wrapped."""
    told = list(readings(data))
    return {value for value in PERSONAL if any(value in text for text in told)}


def journey(field: Field) -> tuple[str, str, list[str]]:
    """A whole visit with private fields in every act that takes them; form, envelope, samples."""
    form, envelope, samples, _ = field.faultless()
    chain = f"form/{form}"
    field.act("inspector", chain, "held", HELD, {"place": "by the window", "note": "left the porch light on"})
    data = {
        "samples": samples[:1],
        "at": "2026-12-02T11:00:00-06:00",
        "reasons": ["paperwork"],
        "called": "2026-12-02T10:50:00-06:00",
    }
    field.act("dock", chain, "on_hold", data, {"note": "called Ms Example twice", "answer": "by the window"})
    field.ledger.sequencer.integrate()
    return form, envelope, samples


HELD = {"secured": "locked", "where": "vehicle", "since": "2026-12-01T14:30:00+00:00"}


@pytest.fixture
def lived(
    make_field: Callable[..., Field], caplog: pytest.LogCaptureFixture
) -> tuple[Field, str, str, list[str]]:
    """A whole visit with every log line of it."""
    caplog.set_level(logging.DEBUG)
    field = make_field()
    return field, *journey(field)


def test_the_test_itself_would_find_a_value() -> None:
    """If this fails, the others below find nothing because they cannot."""
    inner = base64.urlsafe_b64encode(json.dumps(["salt", "site", "12 Invented Lane"]).encode()).rstrip(b"=")
    outer = base64.urlsafe_b64encode(b'{"data":"' + inner + b'"}').rstrip(b"=")
    assert found(b'{"stmt":"eyJhbGciOiJFZDI1NTE5In0.' + outer + b'.sig"}') == {"12 Invented Lane"}


def test_only_the_disclosure_table_holds_what_is_private(lived: tuple[Field, str, str, list[str]]) -> None:
    """What was erased from one table would live on in another."""
    field, *_ = lived
    inspector = sa.inspect(field.ledger.database.engine)
    tables = set(inspector.get_table_names())
    assert tables >= set(schema.metadata.tables)
    seen: dict[str, set[str]] = {}
    with field.ledger.database.reading() as connection:
        for name in sorted(tables):
            for row in connection.execute(sa.text(f'SELECT * FROM "{name}"')):
                for value in row:
                    data = bytes(value) if isinstance(value, bytes | memoryview) else str(value).encode()
                    if hit := found(data):
                        seen.setdefault(name, set()).update(hit)
    assert set(seen) == {"disclosure"}
    assert seen["disclosure"] == set(PERSONAL)


def test_no_log_line_holds_what_is_private(
    lived: tuple[Field, str, str, list[str]], caplog: pytest.LogCaptureFixture
) -> None:
    """A log file is copied to places that nobody can erase from."""
    field, form, *_ = lived
    field.get("clerk", f"/forms/{form}")
    field.client.post("/entries", json={"statement": "Perpetua Example"})
    lines = "\n".join(f"{record.getMessage()} {vars(record)}" for record in caplog.records)
    assert found(lines.encode()) == set()


def test_what_everybody_may_see_holds_nothing_private(lived: tuple[Field, str, str, list[str]]) -> None:
    """Anybody on the network could read who lives where."""
    field, form, envelope, samples = lived
    field.ledger.sequencer.integrate()
    public = [
        "/health",
        "/checkpoint",
        f"/organizations/{FIRM}",
        f"/organizations/{LAB}",
        "/openapi.json",
        f"/l/{samples[0]}",
        f"/forms/{form}",
        f"/envelopes/{envelope}",
        "/entries/0",
        "/tile/0/000",
        "/tile/entries/000",
    ]
    size = field.client.get("/health").get_json()["size"]
    public += [f"/tile/0/000.p/{size % 256}", f"/tile/entries/000.p/{size % 256}"]
    answered = set()
    for path in public:
        answer = field.client.get(path)
        answered |= {path} if answer.status_code == 200 else set()
        assert found(answer.data) == set(), path
    assert answered >= {"/health", "/checkpoint"}
    assert not answered & {f"/organizations/{FIRM}", f"/organizations/{LAB}"}


def test_files_beside_the_database_hold_nothing_private(lived: tuple[Field, str, str, list[str]]) -> None:
    """Tiles are made to be copied by anybody, and can never be called back."""
    field, *_ = lived
    home = Path(field.ledger.settings.home)
    database = field.ledger.database.url.database or ""
    for path in home.rglob("*"):
        if path.is_file() and not str(path).startswith(database):
            assert found(path.read_bytes()) == set(), path


@pytest.mark.slow
def test_labels_hold_nothing_private(lived: tuple[Field, str, str, list[str]]) -> None:
    """An envelope on a dock is read by everybody who passes (symbols are read back with zxing-cpp)."""
    import io

    import zxingcpp
    from PIL import Image
    from pypdf import PdfReader

    field, _, envelope, samples = lived
    said: list[Any] = []
    for path in (f"/samples/{samples[0]}/label.png", f"/envelopes/{envelope}/label.png"):
        picture = Image.open(io.BytesIO(field.get("clerk", path).data)).convert("L")
        codes = zxingcpp.read_barcodes(picture)
        assert codes
        said += [code.text for code in codes]
    pdf = PdfReader(io.BytesIO(field.get("clerk", f"/envelopes/{envelope}/label.pdf").data))
    said += [page.extract_text() for page in pdf.pages]
    said.append(field.get("clerk", f"/samples/{samples[0]}/label.svg").text)
    assert found("\n".join(said).encode()) == set()
