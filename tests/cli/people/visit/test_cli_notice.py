"""`bailee notice`.

The ledger's clock stands at 2026-12-01 14:00 UTC; the hours are common practice, no source.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pypdfium2
import pytest

from town import Town

VISIT = ("notice", "--visit", "2026-12-03 09:00", "--zone", "America/New_York")
SITE = "12 Invented Lane"


def test_it_is_printed_as_text(town: Town) -> None:
    """The office cannot paste the request into a message."""
    said = town.person("nobody").run(*VISIT, "--site", SITE)

    assert said.startswith("GETTING READY FOR AIR SAMPLING")
    assert "From Wednesday, December 2, 2026, 9:00 am until we have left" in said
    assert SITE in said
    assert "Send it by Wednesday, December 2, 2026, 9:00 am" in said


def test_it_is_written_as_pdf_and_html(town: Town, tmp_path: Path) -> None:
    """There is nothing to leave on the door."""
    pdf, page = tmp_path / "notice.pdf", tmp_path / "notice.html"
    said = town.person("nobody").run(*VISIT, "--site", SITE, "--pdf", str(pdf), "--html", str(page))

    assert f"Written to {pdf}." in said
    (sheet,) = pypdfium2.PdfDocument(pdf)
    assert SITE in sheet.get_textpage().get_text_range()
    assert SITE in page.read_text("utf-8").replace("\u00a0", " ")


def test_the_address_never_leaves_the_device(settled: Town, tmp_path: Path) -> None:
    """A private address with a suspicion attached to it lies on somebody's server."""
    settled.line.requests.clear()
    settled.line.bodies.clear()
    settled.person("inspector").run(*VISIT, "--site", SITE, "--pdf", str(tmp_path / "n.pdf"))

    assert settled.line.requests == ["GET /organizations/harrow-field"]
    assert settled.line.bodies == []
    kept = b"".join(file.read_bytes() for file in settled.folder.rglob("*") if file.is_file())
    assert SITE.encode() not in kept


def test_the_firm_is_named_as_it_was_founded(settled: Town) -> None:
    """Occupants get a page that names nobody, though the ledger knows who sends it."""
    inspector = settled.person("inspector")
    name = "Harrow Field"
    assert f"Sent by:   {name}" in inspector.run(*VISIT)
    assert f"Sent by:   {name}" in inspector.run(*VISIT, "--offline"), "as seen last"
    assert "Sent by:   Other Name" in inspector.run(*VISIT, "--firm", "Other Name")
    assert "Sent by:   ____" in settled.person("nobody").run(*VISIT)


def test_the_firm_s_hours_are_used(settled: Town) -> None:
    """The page asks for one day and the rule for two."""
    policy = settled.folder / "policy.toml"
    policy.write_text('edition = 1\npreparation_h = "48"\n')
    settled.person("firm-root").run("policy", str(policy))
    told = settled.person("clerk").answer(*VISIT)

    assert told["closed_from"] == "2026-12-01T09:00:00-05:00"
    assert told["undisturbed_from"] == "2026-12-02T09:00:00-05:00"
    assert told["thresholds"] == "those of harrow-field"


@pytest.mark.parametrize(
    ("visit", "words"),
    # It is 09:00 in New York; 24 h ahead is just in time
    [
        ("2026-12-02 09:00", "Send it by Tuesday, December 1, 2026, 9:00 am"),
        ("2026-12-02 08:59", "Too late for all of it"),
    ],
)
def test_a_late_notice_is_called_late(town: Town, visit: str, words: str) -> None:
    """The office believes a day was given, and the house was aired that morning."""
    assert words in town.person("nobody").run("notice", "--visit", visit, "--zone", "America/New_York")


@pytest.mark.parametrize(
    ("visit", "zone"),
    [
        ("2026-12-01 08:59", "America/New_York"),
        ("2027-03-14 02:30", "America/New_York"),
        ("soon", "America/New_York"),
        ("2026-12-03 09:00", "Mars/Phobos"),
    ],
)
def test_a_time_that_cannot_be_is_refused(town: Town, visit: str, zone: str) -> None:
    """Occupants are asked to be ready for a time that never comes (2 a.m. is skipped that Sunday: 15 U.S.C.
    260a).
    """
    assert "Traceback" not in town.person("nobody").run("notice", "--visit", visit, "--zone", zone, code=2)


def test_a_folder_that_is_not_there_could_not_be_written(town: Town, tmp_path: Path) -> None:
    """The office sends yesterday's page because nobody saw that today's was not written."""
    assert "cannot be written" in town.person("nobody").run(
        *VISIT, "--html", str(tmp_path / "no" / "n.html"), code=3
    )


def test_without_the_libraries_for_paper_it_says_what_still_works(tmp_path: Path) -> None:
    """A laptop with the small install ends in a traceback."""
    script = (
        "import sys\nsys.modules['fpdf'] = None\nsys.modules['fpdf.fonts'] = None\n"
        "from bailee_cli.main import bailee\nbailee(sys.argv[1:])"
    )
    words = ["notice", "--visit", "2199-12-03 09:00", "--zone", "UTC", "--offline"]
    environment = {**os.environ, "BAILEE_HOME": str(tmp_path)}
    run = [sys.executable, "-c", script, *words]
    done = subprocess.run(
        [*run, "--pdf", str(tmp_path / "n.pdf")], capture_output=True, text=True, check=False, env=environment
    )

    assert done.returncode == 3
    assert "in the checkout: pip install '.[server]'" in " ".join(done.stderr.split())
    done = subprocess.run(
        [*run, "--html", str(tmp_path / "n.html")],
        capture_output=True,
        text=True,
        check=True,
        env=environment,
    )
    assert (tmp_path / "n.html").exists()
