"""A power cut on a visit: a pen form, two people, entered the next day, and checked without a network."""

from __future__ import annotations

import hashlib
from base64 import urlsafe_b64encode
from pathlib import Path

import pypdfium2
import pytest

from town import Town, verify_words

pytestmark = pytest.mark.slow

SHEET = """A,2026-12-01,America/New_York
C,quill-lab
H,NORM,26,26,NONE,,48
I,P-7,M-3,YES,9:40,15.0,11:05,14.9
L,2026-12-01,11:20,-05:00
M,2
1,{},K-1,IN,BED,COMP,10:00,5:00,4 ft,,,,YES,P1,NONE,
2,{},K-2,OUT,OUT,,10:45,5:00,4 ft,12 ft,,,YES,P2,NONE,
"""


def checked(town: Town, form: str, name: str) -> str:
    """What an auditor reads who has only the file and the keys."""
    file = town.folder / f"{name}.bundle"
    town.person("inspector").run("bundle", form, "-o", str(file))
    before = len(town.line.requests)
    said = town.person("auditor").run("verify", str(file), *verify_words(town), code=None)
    keys = [each for each in town.line.requests[before:] if "/forms/" in each]
    assert keys == [], "verified from the file alone"
    return " ".join(said.split())


def test_a_visit_in_a_power_cut_is_in_the_file_as_it_was_written(tmp_path: Path) -> None:
    """Where every device is dead the visit would be told from memory, and nobody could tell it from ink."""
    town = Town(tmp_path)
    town.settle()
    inspector, clerk = town.person("inspector"), town.person("clerk")
    _, samples = town.lot(2)
    paper = tmp_path / "pen.pdf"
    (form,) = inspector.answer("paper", "--blank", "1", "-o", str(paper))["forms"]
    assert "CUSTODY FORM, BY PEN" in pypdfium2.PdfDocument(paper)[0].get_textpage().get_text_range()
    # The lights go out at half past nine; two people write until 11:20.
    town.clock.advance(hours=25)
    sheet, photo = tmp_path / "sheet.csv", tmp_path / "sheet.jpg"
    sheet.write_text(SHEET.format(*samples))
    photo.write_bytes(b"a picture of the sheet")
    said = inspector.run("enter-paper", form, "--csv", str(sheet), "--photo", str(photo))
    assert [each["sample"] for each in inspector.answer("show", form)["samples"]] == samples
    digest = urlsafe_b64encode(hashlib.sha256(photo.read_bytes()).digest()).decode()
    assert f"Write on the sheet: entries 1 to 5, photo {digest[:16]}." in " ".join(said.split())
    wanted = f"`bailee witness {form} "
    entries = said.split(wanted)[1].split("`")[0].split(" --count ")
    assert entries[1] == "2"
    alone = checked(town, form, "alone")
    assert (
        "Pump checked on 2026-12-01 09:40 (-05:00): written by pen at 2026-12-01 09:40 (-05:00) (sheet"
        f" {form}-1, line I), entered at 2026-12-02 15:00 (+00:00) by Inspector Person, 24 h 20 min later."
        " This is the longest of 4 late entries."
    ) in alone
    assert "CU-15" in alone
    assert f"Inspector Person entered 2 lines of sheet {form}-1 (1 and 2) from paper; no second" in alone
    assert "CU-22" in alone
    clerk.run("witness", form, *entries[0].split(), "--count", "2", *_read(samples))
    both = checked(town, form, "both")
    assert "CU-22" not in both
    assert "unaltered" in both
    town.close()


def _read(samples: list[str]) -> list[str]:
    return [word for sample in samples for word in ("--samples", sample)]
