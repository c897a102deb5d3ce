"""Pen forms: printed before they are needed, entered once power is back."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

from bailee.domain import numbers
from bailee.signing import signed_statement
from town import OPEN, Town, told_everywhere

FORM = numbers.issue("form", lambda _: "3")
SHEET = f"{FORM}-1"
HEAD = """# as it was written in the dark
A,2026-12-01,America/New_York
B,
C,quill-lab
D,P-001
E,spore count
F,2 days,2026-12-07
G,PO-17
H,NORM,26,,NONE,,48
I,P-7,M-3,yes,9:40,15.0,11:05,14.9
J,9:45,70 F,45,10:40,9 C,70,FAIR,LITE,30
K,LOCK,VEH,11:30,12:10
L,2026-12-01,11:20,-05:00
M,3
N,12:15,harrow-field,SHIP
"""
LINES = (
    "1,{},K-1,IN,BED,COMP,10:00,5:00,4 ft,,,,yes,P1,NONE,by the window",
    "2,{},K-2,indoor,LIV,NOTC,10:15,300 s,1.2 m,,,,YES,P2,VENT,",
    "3,{},K-3,OUT,OUT,,10:45,5:00,4 ft,12 ft,,,YES,P3,NONE,",
)


def written(town: Town, lines: Sequence[str], head: str = HEAD) -> Path:
    """A sheet as somebody typed it into a file."""
    file = town.folder / "sheet.csv"
    file.write_text(head + "\n".join(lines))
    return file


def next_day(town: Town) -> list[str]:
    """The inspector's cassettes, and power is back."""
    _, samples = town.lot(4)
    town.clock.advance(hours=25)
    return samples


def said(town: Town) -> list[dict[str, Any]]:
    """The public facts of what the inspector signed, the newest first."""
    outbox = town.person("inspector").session().of("inspector", as_json=False).outbox
    found = [dict(signed_statement.read(kept.text).claims.data) for kept in outbox.newest(50)]
    outbox.close()
    return found


def test_blank_pen_forms_have_each_a_new_number(settled: Town) -> None:
    """Two visits under one number are one visit for ever."""
    inspector, folder = settled.person("inspector"), settled.folder
    first = inspector.answer("paper", "--blank", "20", "-o", str(folder / "one.pdf"))["forms"]
    second = inspector.answer("paper", "--blank", "20", "-o", str(folder / "two.pdf"))["forms"]
    assert len({*first, *second}) == 40
    pages = [page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(folder / "one.pdf")]
    assert all(numbers.grouped(each) in pages[2 * n] for n, each in enumerate(first))
    assert len(pages) == 40, "front and back"


def test_the_pen_form_of_a_visit_is_printed_page_by_page(settled: Town) -> None:
    """The seventh cassette would have no line, or two sheets one name."""
    inspector, file = settled.person("inspector"), settled.folder / "pen.pdf"
    inspector.run(*OPEN)
    form = inspector.answer("show")["forms"][0]["form"]
    assert f"Pen form of {numbers.grouped(form)}" in inspector.run(
        "paper", form, "--pages", "2", "-o", str(file)
    )
    said = [page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(file)]
    assert ["page 1 of 2" in said[0], "page 2 of 2" in said[2]] == [True, True]
    for wrong in ((), (form, "--blank", "2"), ("--blank", "2", "--pages", "2")):
        inspector.run("paper", *wrong, "-o", str(file), code=2)


def test_a_blank_sheet_is_entered_whole(settled: Town) -> None:
    """What was written without power would be typed in piece by piece, with half of it forgotten."""
    samples = next_day(settled)
    inspector = settled.person("inspector")
    file = written(settled, [line.format(sample) for line, sample in zip(LINES, samples, strict=False)])
    told = inspector.answer("enter-paper", FORM, "--csv", str(file), "--site", "12 Invented Lane")
    assert told["faults"] == []
    assert [each["act"] for each in told["entries"]] == [
        "opened", "requested", "pump_checked", "pump_checked", "conditions_read", "conditions_read",
        "collected", "collected", "collected", "held", "relinquished",
    ]  # fmt: skip
    assert {each["state"] for each in told["entries"]} == {"registered"}
    given, held, outdoor, _, first = said(settled)[:5]
    assert first["paper"] == {"sheet": SHEET, "line": "1", "written_at": "2026-12-01T11:20:00-05:00"}
    assert (first["started"], first["run_s"], first["entered"], first["height_m"]) == (
        "2026-12-01T10:00:00-05:00", 300, "typed", "1.2192",
    )  # fmt: skip
    assert (first["pump"], first["meter"], first["near"], first["covers_on"]) == (
        "P-7",
        "M-3",
        ["none"],
        True,
    )
    assert outdoor["weather"] == {"sky": "clear", "wind": "light"}
    assert (held["secured"], held["until"], held["samples"]) == (
        "locked",
        "2026-12-01T12:10:00-05:00",
        samples[:3],
    )
    assert (given["to"], given["paper"]["line"], given["samples"]) == ("harrow-field", "N", samples[:3])
    form = inspector.answer("show", FORM)
    assert form["private"]["site"] == "12 Invented Lane"
    assert [each["volume_l"] for each in form["samples"]] == ["74.75"] * 3, "from the checks of the pump"


def test_the_other_side_enters_its_half_of_the_transfer_from_the_sheet(settled: Town) -> None:
    """The receiver's ink on the same sheet would count for less than the inspector's."""
    samples = next_day(settled)
    inspector, clerk = settled.person("inspector"), settled.person("clerk")
    lines = [line.format(sample) for line, sample in zip(LINES, samples, strict=False)]
    said = inspector.run("enter-paper", FORM, "--csv", str(written(settled, lines)))
    words = " ".join(said.split()).split(f"`bailee witness {FORM} ")[1].split("`")[0].split()
    read = [word for sample in samples[:3] for word in ("--samples", sample)]
    clerk.run("witness", FORM, *words, *read)
    took = ("--condition", "intact", "--count", "3", "--at", "2026-12-01 12:20", "--sheet", SHEET)
    clerk.run("take", *samples[:3], *took)
    outbox = clerk.session().of("clerk", as_json=False).outbox
    (kept,) = outbox.newest(1)
    outbox.close()
    assert signed_statement.read(kept.text).claims.data["paper"] == {
        "sheet": SHEET, "line": "N", "written_at": "2026-12-01T12:20:00-05:00",
    }  # fmt: skip
    rules = [each["rule"] for each in inspector.answer("check", FORM, code=None)["findings"]]
    assert ("CU-15" in rules, "CU-22" in rules, "CU-01" in rules) == (True, False, False)


def test_that_it_was_written_by_pen_is_told_wherever_the_form_is(settled: Town) -> None:
    """A laboratory that reads the table, or another system the events, takes for typed on the spot what was
    typed the next day.
    """
    samples = next_day(settled)
    inspector, folder = settled.person("inspector"), settled.folder
    lines = [line.format(sample) for line, sample in zip(LINES, samples, strict=False)]
    inspector.run("enter-paper", FORM, "--csv", str(written(settled, lines)))
    for where, text in told_everywhere(settled, FORM).items():
        assert "CU-22" in text or "by pen" in text, where
    table, events = folder / "samples.csv", folder / "events.json"
    inspector.run("export", FORM, "--csv", str(table), "--epcis", str(events))
    assert f",{SHEET} 1," in table.read_text("utf-8")
    told = events.read_text("utf-8")
    assert f'"bailee:sheet": "{SHEET} 1"' in told
    assert '"bailee:writtenAt": "2026-12-01T11:20:00-05:00"' in told
    assert "CU-22" in {each["rule"] for each in inspector.answer("show", FORM)["findings"]}, "for programs"


def test_a_line_that_cannot_be_is_named_and_the_rest_is_entered(settled: Town) -> None:
    """One unreadable number would keep five good cassettes out of the ledger."""
    samples = next_day(settled)
    never_issued = numbers.issue("sample", lambda _: "3")
    wrong = samples[1][:-1] + ("0" if samples[1][-1] != "0" else "1")
    lines = [
        LINES[0].format(samples[0]),
        LINES[1].format(wrong),
        LINES[2].format(never_issued),
        f"4,{samples[2]},K-4,IN,KIT,COMP,2026-12-03 10:50,5:00,4 ft,,,,YES,P4,NONE,",
        f"5,{samples[3]},K-5,IN,BE,COMP,10:50,5:00,4 ft,,,,YES,P4,NONE,",
        f"6,{samples[3]},K-6,IN,HALL,COMP,11:18,5:00,4 ft,,,,YES,P4,NONE,",
    ]
    file = written(settled, lines)
    inspector = settled.person("inspector")
    told = inspector.answer("enter-paper", FORM, "--csv", str(file), code=1)
    assert [(each["sheet"], each["line"], each["column"]) for each in told["faults"]] == [
        (SHEET, "2", "sample"), (SHEET, "3", "sample"), (SHEET, "4", "start"), (SHEET, "5", "room"),
        (SHEET, "6", "start"),
    ]  # fmt: skip
    for each, why in zip(
        told["faults"],
        (
            "wrong check character",
            "never issued",
            "after line L was signed",
            "'BE' is none of: LIV living, BED bedroom",
            "after line L",
        ),
        strict=True,
    ):
        assert why in each["sentence"]
    assert [each["state"] for each in told["entries"] if each["act"] == "collected"] == ["registered"]
    assert inspector.answer("show", FORM)["samples"][0]["sample"] == samples[0]


def test_the_same_sheet_twice_enters_only_what_was_missing(settled: Town) -> None:
    """Two people with a copy of one sheet would enter every cassette twice."""
    samples = next_day(settled)
    lines = [line.format(sample) for line, sample in zip(LINES, samples, strict=False)]
    inspector = settled.person("inspector")
    file = written(settled, [*lines[:2], lines[2].replace("OUT,OUT", "OUT,BED")])
    screen = inspector.run("enter-paper", FORM, "--csv", str(file), code=1)
    assert f"NOT ENTERED: Sheet {SHEET}, line 3, room 'BED': kind and room do not agree" in screen
    screen = inspector.run("enter-paper", FORM, "--csv", str(written(settled, lines)))
    assert f"Sheet {SHEET} was entered already: lines I, J, 1, 2, K and N." in " ".join(screen.split())
    assert len([each for each in inspector.outbox() if each["act"] == "collected"]) == 3
    refused = inspector.answer("enter-paper", FORM, "--csv", str(written(settled, lines)), code=1)
    assert (refused["code"], "was entered already" in refused["detail"]) == ("sheet-entered", True)


def test_a_slip_keeps_a_line_out_of_a_file_unless_it_is_so(settled: Town) -> None:
    """A flow ten times off would be entered because it stood on paper."""
    samples = next_day(settled)
    lines = [LINES[0].format(samples[0]).replace("4 ft,,,,", "4 ft,,1.5,14.9,"), LINES[1].format(samples[1])]
    inspector = settled.person("inspector")
    told = inspector.answer("enter-paper", FORM, "--csv", str(written(settled, lines)), code=1)
    assert [(each["line"], each["column"]) for each in told["faults"]] == [("1", "flow_before")]
    inspector.run("enter-paper", FORM, "--csv", str(written(settled, lines)), "--anyway")
    assert len(inspector.answer("show", FORM)["samples"]) == 2


def test_rows_of_the_second_page_go_on_and_name_their_duplicate(settled: Town) -> None:
    """Two rows 1 on one form: a duplicate would be that of another cassette."""
    samples = next_day(settled)
    inspector = settled.person("inspector")
    lines = [
        "7" + LINES[0].format(samples[0])[1:],
        "8" + LINES[1].format(samples[1])[1:] + ",7",
    ]
    told = inspector.answer("enter-paper", f"{FORM}-2", "--csv", str(written(settled, lines)))
    assert told["faults"] == []
    runs = {each["sample"]: each for each in said(settled) if "run_s" in each}
    assert runs[samples[1]]["duplicate_of"] == samples[0]
    assert runs[samples[1]]["paper"]["line"] == "8"
    wrong = inspector.run("enter-paper", f"{FORM}-2", "--csv", str(written(settled, LINES)), code=2)
    assert "this page has no line 1" in " ".join(wrong.split())


def test_a_code_of_no_list_is_named_with_those_there_are(settled: Town) -> None:
    """One letter in ink that is taken for another would be in the ledger as somebody's word."""
    samples = next_day(settled)
    file = written(settled, [LINES[0].format(samples[0])], HEAD.replace("K,LOCK", "K,L"))
    told = settled.person("inspector").answer("enter-paper", FORM, "--csv", str(file), code=1)
    assert [(each["line"], each["column"], each["said"]) for each in told["faults"]] == [("K", "kept", "L")]
    assert "LOCK locked, RSTR restricted" in told["faults"][0]["sentence"]


@pytest.mark.parametrize("spoilt", ["L,2026-12-01,,", "L,2026-11-30,11:20,", "A,2026-12-01,Nowhere/Town"])
def test_without_day_zone_and_signature_nothing_is_entered(settled: Town, spoilt: str) -> None:
    """Every time on the sheet would be guessed."""
    samples = next_day(settled)
    head = "\n".join(spoilt if line[:1] == spoilt[0] else line for line in HEAD.splitlines()) + "\n"
    file = written(settled, [LINES[0].format(samples[0])], head)
    told = settled.person("inspector").answer("enter-paper", FORM, "--csv", str(file), code=2)
    assert f"Sheet {SHEET}, line {spoilt[0]}, " in told["detail"]
    assert said(settled) == []


def test_a_file_with_other_lines_is_refused(settled: Town) -> None:
    """A table sorted by somebody's program would be entered column by wrong column."""
    inspector = settled.person("inspector")
    for text, why in (
        ("Z,1\n", "no line 'Z'"),
        ("B,a,b\n", "at most 1 columns"),
        ("B,a\nB,a\n", "twice"),
        ("7,a\n", "no line 7"),
    ):
        file = settled.folder / "bad.csv"
        file.write_text(text)
        assert why in inspector.run("enter-paper", FORM, "--csv", str(file), code=2)
    example = inspector.run("enter-paper", FORM, "--example")
    assert "# 1,sample,serial,kind,room,area,start,run,height,distance" in example


def test_a_file_that_is_no_sheet_ends_in_a_sentence(settled: Town) -> None:
    """Somebody's spreadsheet, or a file made to harm, would end in a traceback with the sheet half read."""
    inspector = settled.person("inspector")
    for line, code in (("9" * 5000 + ",x", "no-such-line"), ("A," + "x" * 200_000, "bad-sheet-file")):
        told = inspector.answer("enter-paper", FORM, "--csv", str(written(settled, [line])), code=2)
        assert told["code"] == code
