"""The quick start, then each guide in the same folder and by the same people: nothing that was done is in the
way of what is done next.
"""

from __future__ import annotations

import re
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest
from journey import ADDRESS, FOLDER, Journey, blocks

from quick_start import SERVE, commands
from typed_commands import TypedCommands

KID = r"^kid: +(\S+)$"
LOG_KEY = r"^log key: +(\S+)$"
NUMBER = r"[0-9A-Z]{4} [0-9A-Z]{4} [0-9A-Z]{4}"
PRIVACY = (FOLDER / "privacy.md").read_text("utf-8")
DONE_BEFORE = {
    ("administrator", "Found the organization"),
    ("administrator", "Enroll people"),
    ("administrator", "At a laboratory"),
    ("media-keeper", "Once: your key"),
    ("inspector", "Once: your key"),
    ("clerk", "Once: your key"),
    ("dock", "Once: your key"),
    ("operator", "Make the ledger"),
    ("operator", "Admit an organization"),
}
"""What makes keys, organizations and the ledger, which README says to pass over."""
GUIDES = ("administrator", "media-keeper", "inspector", "clerk", "dock", "auditor", "operator", "cosigner")


class OneLaptop(Journey):
    """Everybody at one keyboard: one folder, one home, and BAILEE_AS where the quick start has `--as`."""

    def _own(self, who: str) -> Path:
        return self.folder

    def _device(self, who: str) -> dict[str, str]:
        return {"BAILEE_HOME": str(self.folder / "people"), "BAILEE_AS": who, "HOME": str(self.folder)}

    def begins(self) -> None:
        """All that README has after the installation."""
        typed = "\n".join(commands()).partition("export PATH=")[2].partition("\n")[2]
        before, after = SERVE.split(typed.replace(ADDRESS, f"http://127.0.0.1:{self.port}"))
        self._typed(before)
        self._serves("bailee serve --home ledger", self.folder, {})
        assert "Recorded: sealed" in self._typed(after)

    def types_one(self, who: str, line: str) -> str:
        """A command out of a sentence; what it asks is answered with yes."""
        done = self.typed.sh(line, self.folder, self._device(who), "y\n")
        assert done.returncode == 0, done.stdout
        return done.stdout

    def _typed(self, script: str) -> str:
        done = self.typed.sh(script, self.folder, {"BAILEE_HOME": str(self.folder / "people")})
        assert done.returncode == 0, done.stdout
        return done.stdout


@pytest.fixture
def laptop(tmp_path: Path) -> Iterator[OneLaptop]:
    """A folder in which the quick start was typed."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        port = listener.getsockname()[1]
    with TypedCommands(tmp_path) as typed:
        made = OneLaptop(typed, tmp_path / "try", port)
        made.folder.mkdir()
        made.begins()
        yield made


@pytest.mark.slow
def test_every_guide_goes_on_from_the_quick_start(laptop: OneLaptop) -> None:
    """If this fails, whoever goes on with a guide stumbles over a pump or a seal of the quick start."""
    the_office_and_the_media(laptop)
    the_visit(laptop)
    the_envelope(laptop)
    what_comes_after(laptop)
    untyped = {
        (each.guide, each.heading) for name in GUIDES for each in blocks(name) if each not in laptop.done
    }
    assert untyped == DONE_BEFORE


def the_office_and_the_media(laptop: OneLaptop) -> None:
    """Hours and limits; two more boxes."""
    laptop.known["INSPECTOR"] = laptop.shown("inspector", KID)
    for heading in ("Equipment, training, licenses", "Hours and limits"):
        laptop.types("office", "administrator", heading)
    for heading, name in (("A box arrives", "LOT"), ("The maker recalls a lot", "RECALLED")):
        laptop.types("office", "media-keeper", heading, slice(1))
        laptop.reads(name, "office", rf"^Lot ({NUMBER})", -1)
        laptop.types("office", "media-keeper", heading, slice(1, None))
        if name == "LOT":
            said = laptop.types("office", "media-keeper", "Numbers and labels")
            issued = re.findall(r"^S[0-9A-Z]{3} [0-9A-Z]{4} [0-9A-Z]{4}", said, re.MULTILINE)
            for number, label in enumerate(issued[:5]):
                laptop.known[f"S{number + 1}"] = label.replace(" ", "")


def the_visit(laptop: OneLaptop) -> None:
    """From the plan to the clerk's hands."""
    laptop.types("inspector", "inspector", "The days before")
    said = laptop.types("inspector", "inspector", "Open the form, check the pump", slice(1))
    assert re.search(rf"^Form ({NUMBER})", said, re.MULTILINE)
    laptop.reads("FORM", "inspector", rf"^Form ({NUMBER})", -1)
    laptop.types("inspector", "inspector", "Open the form, check the pump", slice(1, None))
    laptop.types("inspector", "inspector", "Each cassette")
    assert "OC-01" in laptop.types("inspector", "inspector", "Before you leave")
    laptop.known["CLERK"] = laptop.shown("clerk", KID)
    laptop.types("inspector", "inspector", "Transfer")


def the_envelope(laptop: OneLaptop) -> None:
    """Sealed, shipped, received, decided."""
    for heading in ("Receive them", "By when?"):
        laptop.types("clerk", "clerk", heading)
    heading = "Record, envelope, seal"
    laptop.types("clerk", "clerk", heading, slice(1))
    laptop.reads("ENVELOPE", "clerk", rf"in envelope ({NUMBER}):", -1)
    assert "SE-02" in laptop.types("clerk", "clerk", heading, slice(1, 3))
    laptop.types("clerk", "clerk", heading, slice(3, None))
    laptop.types("clerk", "clerk", "Ship it")
    for heading in ("Before you open it", "Decide", "What leaves the laboratory", "Pages to look at"):
        laptop.types("dock", "dock", heading)


def what_may_be_erased(laptop: OneLaptop) -> None:
    """The commands of the guide of privacy, in its order, by the administrator who enrolled the people."""
    statements = laptop.types_one("office", "bailee outbox --all")
    laptop.known["ENTRY_ID"] = re.findall(r"what: enrolled.*?entry id: (\S+)", statements, re.DOTALL)[0]
    typed = [line for line in re.findall(r"`(bailee [^`]+)`", PRIVACY) if re.search(r"FORM|ENTRY_ID", line)]
    assert len(typed) == 5
    for line in typed:
        known = re.sub(r"FORM|ENTRY_ID", lambda name: laptop.known[name[0]].replace(" ", ""), line)
        assert "Recorded" in laptop.types_one("office", known) or " bundle " in line, line


def what_comes_after(laptop: OneLaptop) -> None:
    """Watched, audited, looked after."""
    laptop.types("lab", "cosigner", "Once: a key for this alone")
    laptop.reads("COSIGNER", "lab", r"auditors: +(\S+)$")
    laptop.known["MONITOR"] = laptop.shown("lab", KID)
    laptop.known["LOG_KEY"] = laptop.shown("lab", LOG_KEY)
    laptop.types("lab", "cosigner", "Follow a log")
    laptop.types("operator", "operator", "Name who watches")
    laptop.types("lab", "cosigner", "Come by")
    laptop.types("lab", "cosigner", "Check what you cosign")
    laptop.types("clerk", "auditor", "Get the file")
    laptop.known["FIRM_ROOT"] = laptop.shown("office", KID)
    laptop.known["LAB_ROOT"] = laptop.shown("lab", KID)
    for heading in ("Bring the keys", "Check it", "Trust no program of ours"):
        laptop.types("auditor", "auditor", heading)
    laptop.types("office", "administrator", "Every week")
    what_may_be_erased(laptop)
    laptop.types("dock", "dock", "Stores and disposal")
    laptop.types("operator", "operator", "Every day")
    laptop.stops()
    laptop.types("operator", "operator", "A new version, a spoiled index")
    laptop.types("operator", "operator", "When it freezes")
