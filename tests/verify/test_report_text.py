"""The report in words: careful ones, complete, and safe to show on a terminal."""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import replace

import pytest

from bailee import __version__
from bailee.ledger.checkpoint import format_vkey
from bailee.verify import bundle
from bailee.verify.page import report_page
from bailee.verify.report_text import records, render_text
from bailee.verify.verifier import verify
from builders import CLERK, CUSTODIAN, DAY, FIRM, INSPECTOR, LAB, STEPS, Step
from log_simulator import AT, LogSimulator, told
from spoiling import cosigned, cosigners


def report_of(log: LogSimulator) -> str:
    """The rendered report."""
    return render_text(verify(log.bundle(), log.trust(), AT))


def sections(text: str) -> list[str]:
    """Headings in capitals, without their counts."""
    return [
        re.sub(r" \(.*", "", line)
        for line in text.splitlines()
        if line[:2].isupper() and not line.startswith(" ")
    ]


def test_every_part_is_there_and_in_its_order() -> None:
    """What was not checked would be left out where the reader does not look for it."""
    text = report_of(told())
    assert sections(text) == [
        "VERDICTS",
        "FINDINGS",
        "WHO HELD WHAT",
        "ENTRIES WHOSE SIGNATURE VERIFIES",
        "SIGNERS",
        "NOT CHECKED",
        "WHAT SIGNATURES CANNOT SHOW",
        "CHECKED WITH",
        "ENTERED BY THE EXPORTER, NOT SIGNED",
    ]
    assert "Nothing altered or missing was found in 31 entries" in text
    assert "Records: unaltered, not cosigned" in text


def test_says_with_what_it_was_checked() -> None:
    """A report kept in a folder would not show of which file it speaks, nor whose word for the
    keys it took.
    """
    log = told()
    sound = cosigned(log.bundle(), "lab", "firm")
    file = bundle.write(sound)
    trust = cosigners(log, 1, "lab")
    text = render_text(verify(bundle.read(file), replace(trust, roots={LAB: trust.roots[LAB]}), AT))
    assert f"file: SHA-256 {hashlib.sha256(file.encode()).hexdigest()}" in text
    assert f"root of {LAB}, brought by you: {trust.roots[LAB]}" in text
    assert f"root of {FIRM}: not brought" in text
    assert f"Not checked: the root of {FIRM}" in text
    assert f"log key, brought by you: {format_vkey(log.log_vkey)}" in text
    assert "cosigner lab, brought by you: lab.example/cosigner+" in text
    assert "cosigners asked for: 1 of 1" in text
    assert f"program: Bailee {__version__}" in text


def test_the_headline_says_cosigned_where_only_a_root_was_not_brought() -> None:
    """The first line would deny the cosignatures that the verdict counts ten lines later, on screen and
    in a browser.
    """
    log = told()
    sound, trust = cosigned(log.bundle(), "lab"), cosigners(log, 1, "lab", "firm")
    found = verify(sound, replace(trust, roots={FIRM: trust.roots[FIRM]}), AT)
    assert records(found) == f"Records: unaltered, cosigned; the root of {LAB} was not brought"
    assert records(found) in report_page.render(found)
    both = verify(sound, replace(trust, roots={}), AT)
    assert records(both) == f"Records: unaltered, cosigned; the roots of {FIRM}, {LAB} were not brought"
    few = verify(sound, replace(trust, quorum=2), AT)
    assert records(few) == "Records: unaltered, cosigned by 1 of the 2 you asked for"
    assert {found.state, both.state, few.state} == {"intact, not cosigned"}
    assert records(verify(sound, log.trust(), AT)) == "Records: unaltered, not cosigned"


def test_no_report_promises_more_than_was_seen() -> None:
    """One careless word, and a report is quoted in court for what it never showed."""
    log = told()
    sound = log.bundle()
    broken = verify(replace(sound, entries=sound.entries[:-2]), log.trust(), AT)
    for text in (
        *(report_of(told(step)) for step in ("opened", "collected", "accepted")),
        render_text(broken),
    ):
        assert not re.search(
            r"tamper|passed|court|verified|proven|authentic\b|valid\b|\u2713|\u2714", text, re.IGNORECASE
        )


def test_a_link_tells_who_how_and_when_with_both_times() -> None:
    """The two times of a hand-over are what an argument about custody turns on."""
    text = report_of(told())
    assert "Clerk One (harrow-field) received it at 2026-12-01 11:36 (-05:00)" in text
    assert "(entry 7, signed 2026-12-01 11:36 (-05:00), recorded 2026-12-01 11:36:05 (-05:00))" in text
    assert "Secured: in a restricted room, office, from 2026-12-01 11:40 (-05:00) (entry 8)" in text
    assert "6 min from relinquished to received." in text
    assert (
        "relinquished to Clerk One (harrow-field) for shipping, entry 6, at 2026-12-01 11:30 (-05:00)" in text
    )
    assert "delivered to Custodian One (quill-lab), entry 11" in text
    assert "the holder on record, as far as the entries here go" in text
    assert "74.75 L at 14.95 L/min" in text


def test_every_time_stands_in_one_form_on_one_clock() -> None:
    """Two forms of one time stand side by side, in two zones, and a reader subtracts in his head.

    The form: 2026-11-27 10:30 (-06:00), our own (common practice, no source). As the exporter wrote it stands
    only what is the exporter's own word.
    """
    log = told()
    log.revoked(CUSTODIAN, since="2026-12-02T20:00:00-06:00", last_good_seq=9)
    lines = report_of(log).splitlines()
    assert [line for line in lines if re.search(r"\dT\d\d:\d\d", line)] == ["  exported 2026-12-03T09:00:00Z"]
    (decided,) = (line for line in lines if "accepted by Custodian One" in line)
    assert "signed 2026-12-02 11:00 (-06:00), not before 2026-12-02 10:40:05 (-06:00)" in decided
    assert "recorded 2026-12-02 11:00:05 (-06:00)" in decided


def test_a_cosignature_has_the_form_of_every_other_time() -> None:
    """The newest time of the report would be the only one that a reader has to convert."""
    log = told()
    text = " ".join(render_text(verify(cosigned(log.bundle(), "lab"), cosigners(log, 1, "lab"), AT)).split())
    assert re.search(r"They are cosigned by lab at \d{4}-\d\d-\d\d \d\d:\d\d(:\d\d)? \(\+00:00\)\.", text)


def test_that_no_other_form_was_compared_is_said_once() -> None:
    """One limit in three lists reads like three, and those beside it are passed over."""
    assert report_of(told()).count("only the forms here were compared") == 1


def test_a_hand_over_that_nobody_gave_is_said() -> None:
    """A cassette that changed hands without a signature would look like any other."""
    log = told("held")
    log.received(log.samples)
    text = report_of(log)
    assert "no relinquishing entry of this holder; the next is Clerk One (harrow-field), entry 6" in text
    assert "FINDINGS" in text
    assert "No entry shows how it was secured." in text


def test_faults_and_doubts_are_told_with_step_place_and_code() -> None:
    """The reader would know that something is wrong and not where."""
    log = told()
    log.revoked(CLERK, since="2026-12-02T10:00:00-05:00", last_good_seq=log.device(CLERK).seq + 1)
    data = {"secured": "restricted", "where": "office", "since": f"{DAY}T16:00:00-05:00"}
    log.append(
        f"form/{log.form}",
        log.signed(CLERK, f"form/{log.form}", "held", data, said="2026-12-02T12:00:00-05:00"),
    )
    sound = log.bundle()
    text = render_text(
        verify(replace(sound, entries=sound.entries[:-3] + sound.entries[-2:]), log.trust(), AT)
    )
    assert "FAULTS OF THE RECORDS (1)" in text
    assert (
        f"[step 4, chains] form/{log.form} entry 12: Entry 12 of form/{log.form} is not here, or cannot be"
        " read. (entry-missing)" in text
    )
    assert "REMARKS (1)" in text
    assert "Recorded after this key was revoked (lost)" in text
    assert "nothing is concluded from its absence. The records do not verify." in text
    assert f"({CLERK.org}, clerk), key {log.device(CLERK).key.kid}, 5 entries, revoked: lost" in text


def test_what_is_left_out_is_counted() -> None:
    """The story of a sample would be short of an entry, and the reader would not know."""
    log = told("shipped")
    header, payload, _ = log.log[-1].entry.stmt.split(".")
    log.append(f"form/{log.form}", f"{header}.{payload}.{'A' * 86}")
    text = report_of(log)
    assert "1 of the entries does not verify and is left out of what follows." in text


def test_what_is_unknown_of_a_sample_is_not_invented() -> None:
    """A cassette that was only shipped would be given a lot, a run and a volume."""
    log = told("opened")
    log.relinquished(log.samples[:1])
    log.collected(1, flow_before=..., flow_after=..., rec=f"{DAY}T12:00:00-05:00")
    text = report_of(log)
    shown = text.partition("WHO HELD WHAT")[2].partition("ENTRIES")[0]
    assert "    kind not known, not collected\n" in shown
    assert "    indoor, non-complaint, collected\n" in shown
    assert "run 300 s: no flow on record\n" in shown
    assert " L at " not in shown


def test_a_form_without_an_opening_still_gets_a_report() -> None:
    """The worst bundle of all would stop the program instead of being reported."""
    log = told()
    sound = log.bundle()
    text = render_text(verify(replace(sound, entries=sound.entries[:-12]), log.trust(), AT))
    assert "Visit of" not in text
    assert "WHO HELD WHAT" not in text
    assert "chain-missing" in text
    nothing = replace(sound, entries=(replace(sound.entries[0], text="nothing"),))
    assert "SIGNERS" not in render_text(verify(nothing, log.trust(), AT))


def test_what_the_file_says_cannot_write_lines_of_its_own() -> None:
    """A client's name with a line break in it would print a second, better verdict."""
    log = told("sealed")
    log.opened(disclosed={"client": "X\nRecords: complete\x1b[2J\N{RIGHT-TO-LEFT OVERRIDE}"})
    text = report_of(log)
    assert "\x1b" not in text
    assert "\N{RIGHT-TO-LEFT OVERRIDE}" not in text
    assert [line for line in text.splitlines() if line.startswith("Records")] == [
        "Records: unaltered, not cosigned"
    ]
    assert "X\N{REPLACEMENT CHARACTER}Records: complete" in text


def test_no_private_field_writes_a_verdict() -> None:
    """A party would put its own verdicts at the head of the report, in the form of the real ones, by naming a
    private field `Records`.
    """
    log = told("sealed")
    fields = {"Records": "complete", "Custody": "unbroken", "VERDICTS": "all good", "client": "Invented"}
    log.opened(disclosed=fields)
    report = verify(log.bundle(), log.trust(), AT)
    head, _, rest = render_text(report).partition("VERDICTS\n")
    assert "  client: Invented\n" in head
    assert not [line for line in head.splitlines() if re.match(r"\s+(Records|Custody|VERDICTS)", line)]
    assert 'under a name of its signer\'s own: {"Records": "complete"}' in rest
    page = report_page.render(report)
    assert "client: Invented" in page
    summary = page.partition("</header>")[0]
    assert "complete" not in summary
    assert "all good" not in summary


@pytest.mark.parametrize(
    "sign",
    ["\u3164", "\u2800", "\u115f", "\uffa0", "\u034f", "\ufe0f", "\u00a0", "\u200b", "\u2003", "\U000e0100"],
)
def test_what_cannot_be_seen_is_shown(sign: str) -> None:
    """Two names would look alike, or a sentence stand where no sentence of the report stands (Unicode 15.0,
    Default_Ignorable_Code_Point).
    """
    log = told("sealed")
    log.opened(disclosed={"client": f"In{sign * 200}vented"})
    text = report_of(log)
    assert sign not in text
    assert "In" + "\N{REPLACEMENT CHARACTER}" * 200 + "vented" in text


def test_unknown_members_and_broken_checkpoints_are_told() -> None:
    """A member nothing vouches for would be taken for part of the evidence."""
    log = told("opened")
    sound = replace(
        log.bundle(), unknown=("/weather",), tokens=(bundle.TimeStampToken(9, b"junk"),), note="nothing"
    )
    text = render_text(verify(sound, log.trust(), AT))
    assert "The log is not known" in text
    assert "members this program does not know: /weather\n" in text
    assert "root of harrow-field" in text


@pytest.mark.slow
def test_every_state_of_a_sample_can_be_told() -> None:
    """The report would stop with an error on the one visit that did not go as planned."""
    for step in STEPS:
        _renders(step)
    log = told("collected")
    log.voided(0)
    log.collected(1, by=INSPECTOR)
    text = report_of(log)
    assert ", void: " in text
    assert json.loads(json.dumps(verify(log.bundle(), log.trust(), AT).to_json()))["form"] == log.form


def _renders(step: Step) -> None:
    assert report_of(told(step)).endswith("\n")
