"""One form, told five times: on paper, on its page, to programs, at a terminal and in the verifier's report.

Expected words are typed here and not taken from the program; the paper is read back by another library
(PDFium).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from html import unescape
from pathlib import Path
from typing import Any, Final

import pypdfium2
import pytest

from bailee.domain.numbers import grouped
from town import ENVELOPE, INDOOR, SEAL, Town, collect, dock, verify_words

pytestmark = pytest.mark.slow  # left out between two saves of a file

STATES: Final = ("accepted, result qualified", "on hold", "accepted", "void: dropped")
"""Where the four samples stand in the end: two indoor ones, their outdoor control, and one that fell."""
FACTS: Final = (
    "indoor",
    "outdoor control",
    "74.75",  # (15.0 + 14.9) / 2 = 14.95 L/min; for 300 s that is 74.75 L (arithmetic)
    "2027-03-31",  # a month on the box means its last day
    "min apart",
    "in a restricted room",
    "by the window",
    "bedroom",
    "acorn-freight",
    "AF-1",
    "VOID showing",
    "Outdoor comparison",
    "needs a decision",
    "Inspector Person",
    "Clerk Person",
)
AT_THE_DOCK: Final = ("cracked, cover off", "Q-1")
"""What the terminal tells of programs' answers beside the sample, in answers of its own."""
OLD: Final = (
    "in sight",
    "locked away",
    "under a seal",
    "under a custody seal",
    ", voided",
    "on_hold",
    "void_showing",
    "cover_off",
    "how it was kept",
    "same glass",
    "nothing to remark",
    "Refused",
)
"""What one surface or another once said in place of the words above, or a code."""


@pytest.fixture
def told(visited: tuple[Town, list[str]], tmp_path: Path) -> tuple[Mapping[str, Any], Mapping[str, str]]:
    """The form's answer to programs, and the words of every surface for people."""
    town, (first, second, outdoor, fallen) = visited
    inspector, clerk, lab = town.person("inspector"), town.person("clerk"), town.person("dock")
    form = clerk.answer("show")["forms"][0]["form"]
    collect(town, fallen, (*INDOOR, "--form", form))
    inspector.run("void", fallen, "--reason", "dropped")
    clerk.run("secure", "--how", "restricted", "--where", "office", "--form", form)
    clerk.run("seal", first, second, outdoor, "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    clerk.run(
        "ship", ENVELOPE, "--carrier", "acorn-freight", "--service", "next day", "--tracking", "AF-1", "--yes"
    )
    town.clock.now = town.clock.now.replace(day=2, hour=16, minute=30)
    dock(
        town, first, second, outdoor, "--seal", "C-4711", "--seal-state", "void_showing", "--counted", "3",
        typed="intact\ncracked,cover_off\nintact\n",
    )  # fmt: skip
    lab.run("accept", first, "--qualified", "--reason", "seal", "--lab-number", f"{first}=Q-1")
    lab.run("put-on-hold", second, "--reason", "condition")
    lab.run("accept", outdoor)
    file, paper = tmp_path / "file.json", tmp_path / "record.pdf"
    clerk.run("bundle", form, "-o", str(file))
    clerk.run("record", form, "-o", str(paper))
    said = {
        "paper": " ".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(paper)),
        "page": _page(town, form),
        "terminal": "".join(
            clerk.run("show", each) for each in (form, first, second, outdoor, fallen, ENVELOPE)
        ),
        "verifier": town.person("auditor").run("verify", str(file), *verify_words(town), code=None),
    }
    return clerk.answer("show", form), {name: " ".join(text.split()) for name, text in said.items()}


def _page(town: Town, form: str) -> str:
    """What a reader sees of the form's page, and of its envelope's, without the marks."""
    browser, token = town.app.test_client(), town.person("clerk").run("pages").strip().partition("#")[2]
    assert browser.post("/session", json={"token": token}).status_code == 200
    pages = [browser.get(f"/pages/{path}").text for path in (f"forms/{form}", f"envelopes/{ENVELOPE}")]
    return unescape(re.sub(r"<[^>]*>", " ", " ".join(pages)))


def test_five_renderings_of_one_form_show_the_same_facts_in_the_same_words(
    told: tuple[Mapping[str, Any], Mapping[str, str]],
) -> None:
    """The paper says "void" and the report "voided", one page 74.8 L and another 74.75 L, and somebody is
    asked in court which is true.
    """
    answer, said = told
    assert set(said) == {"paper", "page", "terminal", "verifier"}
    for surface, text in said.items():
        for fact in (*STATES, *FACTS, *AT_THE_DOCK):
            assert fact in text, (surface, fact)
        for sample in answer["samples"]:
            assert grouped(sample["sample"]) in text, (surface, sample["sample"])
        assert f"{answer['samples'][0]['minutes_apart']} min apart" in text, surface
        for word in OLD:
            assert word not in text, (surface, word)


def test_programs_are_told_the_same_facts_in_codes(told: tuple[Mapping[str, Any], Mapping[str, str]]) -> None:
    """A program that reads "VOID showing" today and "void showing" tomorrow would lose every broken seal in
    between.
    """
    answer, _ = told
    first, second, outdoor, fallen = answer["samples"]
    assert [each["status"] for each in (first, second, outdoor)] == ["accepted", "on_hold", "accepted"]
    assert (fallen["void"], fallen["kind"], outdoor["kind"]) == ("dropped", "indoor", "outdoor")
    assert (first["volume_l"], first["mean_flow"], first["lab_number"]) == ("74.75", "14.95", "Q-1")
    assert (second["condition"], first["decisions"][-1]["qualified"]) == (["cracked", "cover_off"], True)
    assert [kept["secured"] for link in first["links"] for kept in link["kept"]] == [
        "restricted",
        "sealed",
        "sealed",
    ]
    assert {each["area"]: each["state"] for each in answer["verdicts"]}["records"] == "own log"
