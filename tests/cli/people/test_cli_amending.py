"""Correcting and allowing at the keyboard: what would not count is said before it is signed.

Who may: common practice, no source.
"""

from __future__ import annotations

import re
from typing import Any

import pytest

from bailee.domain import numbers
from bailee.signing import signed_statement
from bailee_cli.device.client import LedgerClient
from field import FIRM, LAB
from terminal import Terminal, served
from town import ENVELOPE, INDOOR, OPEN, OUTDOOR, SEAL, Person, Town, collect

NO_ANSWERS = (
    "open",
    "--lab",
    LAB,
    "--zone",
    "America/New_York",
    "--client",
    "Perpetua Example",
    "--site",
    "12 Invented Lane",
)


def flat(said: str) -> str:
    """What is on the screen, without its line breaks."""
    return " ".join(said.replace("\N{NO-BREAK SPACE}", " ").split())


def form_of(town: Town) -> str:
    """The number of the only form."""
    return str(town.person("inspector").answer("show")["forms"][0]["form"])


def signed(person: Person, act: str = "corrected") -> list[dict[str, Any]]:
    """What this person's device signed of one act, oldest first."""
    outbox = person.session().of(person.name, as_json=False).outbox
    found = [
        dict(signed_statement.read(each.text).claims.data)
        for each in reversed(outbox.newest(100))
        if each.act == act
    ]
    outbox.close()
    return found


def fact(listed: list[dict[str, Any]], act: str, name: str) -> dict[str, Any]:
    """One fact of the list."""
    (stated,) = (each for each in listed if each["act"] == act)
    return next(dict(each) for each in stated["facts"] if each["field"] == name)


def test_without_a_field_it_lists_what_may_be_corrected_and_by_whom(visited: tuple[Town, list[str]]) -> None:
    """Nobody could know what the facts are called, or whose they are to correct."""
    town, samples = visited
    said = flat(town.person("clerk").run("correct", samples[0]))

    assert "flow_after" in said
    assert '"14.9"' in said
    assert "Inspector Person, or the admin or quality role of harrow-field (not you)" in said
    assert "Not entered, may be supplied by" in said
    assert f"bailee correct {samples[0]} FACT=VALUE" in said
    listed = town.person("clerk").answer("correct", samples[0])
    assert fact(listed, "collected", "serial")["may"]
    assert not fact(listed, "collected", "flow_after")["may"]
    of_form = town.person("clerk").answer("correct", form_of(town))
    assert fact(of_form, "opened", "preparation.windows_closed_h")["value"] == "26"
    assert "collected" not in {each["act"] for each in of_form}


def test_the_fact_chooses_the_statement(visited: tuple[Town, list[str]]) -> None:
    """A correction of the form would go to a sample's statement without a word."""
    town, samples = visited
    inspector = town.person("inspector")
    said = inspector.run("correct", form_of(town), "ventilation=off", "--reason", "misread")
    assert 'preparation.ventilation: "normal" becomes "off"' in said
    said = inspector.run("correct", samples[0], "flow_after=14.8", "--reason", "misread")
    assert 'flow_after: "14.9" becomes "14.8"' in said
    said = inspector.run("correct", form_of(town), "flow_after=14.8", "--reason", "misread", code=2)
    assert "It is a fact of collected: enter the number of a sample." in flat(said)


def test_several_statements_are_named_to_choose_from(visited: tuple[Town, list[str]]) -> None:
    """The program would pick one of two hand-overs."""
    town, samples = visited
    inspector = town.person("inspector")
    said = flat(inspector.run("correct", samples[0], "at=2026-12-01 09:28", "--reason", "clock", code=2))
    assert "Choose one: --act relinquished (relinquished, entry" in said
    assert "--act received" in said
    said = inspector.run(
        "correct", samples[0], "at=2026-12-01 09:28", "--reason", "clock", "--act", "relinquished"
    )
    assert 'becomes "2026-12-01T09:28:00-05:00"' in said  # the clocks of the site
    inspector.run("secure", "--secured", "locked", "--where", "vehicle", form_of(town), code=None)
    form, listed = form_of(town), inspector.answer("correct", form_of(town))
    entry = next(each["entry"] for each in listed if each["act"] == "opened")
    said = inspector.run("correct", form, "plan=SP-2", "--reason", "left_out", "--statement", str(entry))
    assert 'plan: null becomes "SP-2"' in said


def offered(said: str, rule: str) -> str:
    """The first correction that a screen offers below a rule."""
    return flat(said).split(f"{rule} ")[1].split("`bailee correct ")[1].split("`")[0]


def test_what_was_left_out_is_supplied_as_the_finding_offers_it(settled: Town) -> None:
    """Whoever types what the screen says would be told to write an object with named members."""
    _, (sample,) = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*NO_ANSWERS)
    without = tuple(each for each in OUTDOOR if each not in ("--sky", "clear", "--wind", "light"))
    collect(settled, sample, without)
    for rule, words in (
        ("VP-05", ["26", "26", "normal", "48", "none"]),
        ("OC-07", ["clear", "light"]),
    ):
        line = offered(inspector.run("check", form_of(settled), code=None), rule)
        for word in words:
            line = line.replace("…", word, 1)
        inspector.run("correct", *line.split())
        assert rule not in inspector.run("check", form_of(settled), code=None)


def test_a_count_is_corrected_as_the_finding_offers_it(visited: tuple[Town, list[str]]) -> None:
    """After an exchange both signers stated a count, and the answer offered one word twice."""
    town, (*samples, _) = visited
    inspector, clerk = town.person("inspector"), town.person("clerk")
    kid = inspector.answer("key", "show")["kid"]
    clerk.run("give", *samples, "--to", FIRM, "--to-key", kid, "--purpose", "return")
    inspector.run(
        "take", *samples, "--condition", "intact", "--purpose", "return", "--count", "9", "--anyway"
    )
    form = form_of(town)
    line = offered(inspector.run("check", form, code=None), "CU-06")
    inspector.run("correct", *line.replace("…", str(len(samples)), 1).replace("…", "typing").split())
    assert "CU-06" not in inspector.run("check", form, code=None)

    said = flat(inspector.run("correct", form, "count=2", "--reason", "typing", code=2))
    named = re.findall(r"--(?:act|statement) \w+", said)
    assert len(named) == len(set(named)) > 2


def test_a_name_the_statement_does_not_have_is_answered_with_names_like_it(
    visited: tuple[Town, list[str]],
) -> None:
    """A slip of the finger would be signed, recorded, and change nothing."""
    town, samples = visited
    inspector = town.person("inspector")
    before = len(inspector.outbox())
    assert "Names like it: flow_after" in flat(
        inspector.run("correct", samples[0], "flow_aftr=1", "--reason", "typing", code=2)
    )
    said = flat(
        inspector.run(
            "correct", samples[0], "--field", "tracking", "--new", "AF-2", "--reason", "typing", code=2
        )
    )
    assert "has no tracking" in said
    assert "It is a fact of shipped" in said
    assert len(inspector.outbox()) == before


def test_one_answer_of_the_preparation_keeps_the_others(visited: tuple[Town, list[str]]) -> None:
    """To mend one answer all of them would have to be typed, as JSON."""
    town, _ = visited
    inspector = town.person("inspector")
    inspector.run("correct", form_of(town), "preparation.windows_closed_h=12", "--reason", "misread")
    (said,) = signed(inspector)
    others = {"purifiers_off_h": "26", "ventilation": "normal", "cleaned_h_ago": "48"}

    assert said["field"] == "preparation"
    assert {name: said["new"][name] for name in others} == others
    assert (said["old"]["windows_closed_h"], said["new"]["windows_closed_h"]) == ("26", "12")
    found = inspector.answer("check", form_of(town), code=None)["findings"]
    assert any(each["rule"] == "VP-01" for each in found)  # 12 h is less than 24 (domain: common practice)


def test_missing_answers_are_supplied_together(settled: Town) -> None:
    """VP-05 could not be cured field by field: the first answer alone is no preparation."""
    inspector = settled.person("inspector")
    inspector.run(*NO_ANSWERS)
    form = form_of(settled)
    assert "VP-05" in inspector.run("check", form, code=None)
    said = flat(inspector.run("correct", form, "windows_closed_h=30", "--reason", "left_out", code=2))
    assert "add preparation.purifiers_off_h=… preparation.ventilation=… preparation.cleaned_h_ago=…" in said
    inspector.run(
        "correct",
        form,
        "windows_closed_h=30",
        "purifiers_off_h=30",
        "ventilation=normal",
        "cleaned_h_ago=null",
        "fresh_air=none",
        "--reason",
        "left_out",
    )
    assert len(signed(inspector)) == 1
    assert "VP-05" not in inspector.run("check", form, code=None)


def test_the_clerk_supplies_no_flow(visited: tuple[Town, list[str]]) -> None:
    """A reading that only the inspector took would be invented at a desk (49 CFR 40.205, by analogy: who left
    it out supplies it).
    """
    town, samples = visited
    clerk = town.person("clerk")
    said = flat(clerk.run("correct", samples[0], "flow_after=14.7", "--reason", "left_out", code=1))

    assert "only the inspector who collected the sample saw that" in said
    assert (
        "It needs Inspector Person, or the admin or quality role of harrow-field. Nothing was signed." in said
    )
    assert signed(clerk) == []
    town.person("quality").run("correct", samples[0], "flow_after=14.7", "--reason", "left_out")
    assert signed(town.person("quality"))[0]["old"] == "14.9"


def test_another_organization_is_told_who_may(visited: tuple[Town, list[str]]) -> None:
    """The laboratory would believe that it has put the firm's form right."""
    town, samples = visited
    said = flat(town.person("dock").run("correct", samples[0], "serial=K-1", "--reason", "misread", code=1))
    assert "only the organization that signed an entry may correct it, which is harrow-field" in said
    assert signed(town.person("dock")) == []


def test_nothing_is_corrected_to_what_it_says(visited: tuple[Town, list[str]]) -> None:
    """The record would fill with corrections that correct nothing."""
    town, samples = visited
    said = flat(
        town.person("inspector").run("correct", samples[0], "flow_after=14.9", "--reason", "typing", code=1)
    )
    assert 'has "14.9" already' in said


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("run_s=4:00", 240),
        ("run_s=200", 200),
        ("height_m=3 ft", "0.9144"),
        ("near=fan, plants", ["fan", "plants"]),
        ("covers_on=no", False),
        ("pump=null", None),
        ("dust=heavy", "heavy"),
    ],
)
def test_values_are_typed_as_people_write_them(
    visited: tuple[Town, list[str]], typed: str, value: Any
) -> None:
    """A list or a length would have to be typed as JSON in meters; "null" would become a pump
    of that name.
    """
    town, samples = visited
    inspector = town.person("inspector")
    inspector.run("correct", samples[0], typed, "--reason", "misread")
    assert signed(inspector)[0]["new"] == value  # 3 ft = 0.9144 m exactly


def test_a_reason_and_a_value_are_needed(visited: tuple[Town, list[str]]) -> None:
    """A correction nobody explains would be signed, or a question taken for one."""
    town, samples = visited
    inspector = town.person("inspector")
    assert "Enter why, with --reason" in flat(inspector.run("correct", samples[0], "run_s=200", code=2))
    assert "flow_after=VALUE" in flat(inspector.run("correct", samples[0], "flow_after", code=2))
    assert "go together" in flat(inspector.run("correct", samples[0], "--field", "run_s", code=2))
    assert "is no such value" not in flat(
        inspector.run("correct", samples[0], "dust=thick", "--reason", "typing", code=2)
    )
    assert signed(inspector) == []


def test_an_envelope_is_corrected_on_every_form_in_it(shipped: tuple[Town, list[str]]) -> None:
    """A wrong tracking number would stay on the other visit's form."""
    town, _ = shipped
    clerk = town.person("clerk")
    said = clerk.run("correct", ENVELOPE, "tracking=AF-2", "--reason", "misread")
    assert 'tracking: "AF-1" becomes "AF-2"' in said
    assert clerk.answer("show", ENVELOPE)["shipped"]["tracking"] == "AF-2"


def test_signed_offline_it_is_recorded_and_told_when_it_does_not_count(
    visited: tuple[Town, list[str]],
) -> None:
    """What was signed in a basement would be lost, or read "recorded" and be ignored."""
    town, samples = visited
    inspector = town.person("inspector")
    town.person("quality").run("correct", samples[0], "flow_after=14.6", "--reason", "misread")
    town.clock.advance(minutes=10)
    inspector.run("correct", samples[0], "flow_after=14.7", "--reason", "misread", "--offline")
    said = flat(inspector.run("send", code=1))
    assert "Recorded: corrected" in said
    assert "It does not count: the entry does not have '14.9' at flow_after." in said


def test_offline_this_device_corrects_what_it_said_itself(visited: tuple[Town, list[str]]) -> None:
    """In a basement a slip could not be put right before somebody reads it."""
    town, samples = visited
    inspector = town.person("inspector")
    town.line.weather = "down"
    said = flat(inspector.run("correct", samples[0], "--offline"))
    assert "may be corrected by" in said
    inspector.run("correct", samples[0], "flow_after=14.7", "--reason", "misread", "--offline")
    inspector.run("correct", samples[0], "flow_after=14.6", "--reason", "misread", "--offline", "--both")
    assert [(each["old"], each["new"]) for each in signed(inspector)] == [("14.9", "14.7"), ("14.7", "14.6")]
    town.line.weather = "fine"
    assert {each["note"] for each in inspector.answer("send")} == {""}


def test_a_lot_has_a_verb_of_its_own(settled: Town) -> None:
    """Somebody would look for the expiry where it is not."""
    lot, _ = settled.lot(1)
    assert "`bailee lot expiry`" in settled.person("keeper").run("correct", lot, code=2)


# Exceptions


def without_outdoor(town: Town) -> str:
    """A visit of indoor samples only, in the inspector's hands: its form."""
    _, samples = town.lot(2)
    town.person("inspector").run(*OPEN)
    for sample in samples:
        collect(town, sample, INDOOR)
    return form_of(town)


@pytest.mark.parametrize("offline", [(), ("--offline",)])
@pytest.mark.parametrize(
    ("rule", "said"),
    [("xx-02", "There is no rule XX-02."), ("SE-04", "can only be fixed, not allowed by exception.")],
)
def test_what_may_not_be_excepted_is_refused_with_what_may(
    settled: Town, rule: str, said: str, offline: tuple[str, ...]
) -> None:
    """A rule nobody wrote would be "excepted", and the clerk go on."""
    form = without_outdoor(settled)
    quality = settled.person("quality")
    told = flat(quality.run("except", rule, form, "--reason", "other", *offline, code=2))

    assert said in told
    assert "Exceptions are possible for: CL-09," in told
    assert signed(quality, "excepted") == []


def test_the_person_excused_is_told_who_may(settled: Town) -> None:
    """The inspector who forgot the outdoor control would excuse himself."""
    form = without_outdoor(settled)
    inspector = settled.person("inspector")
    said = flat(inspector.run("except", "oc-01", form, "--reason", "outdoor_impossible", code=1))

    assert "This exception would not count: Inspector Person may not allow OC-01 here" in said
    assert "role who neither seals nor ships the envelope (not Inspector Person). Nothing was signed." in said
    assert signed(inspector, "excepted") == []


def test_the_clerk_who_seals_is_not_the_second_person(settled: Town) -> None:
    """She would allow the missing outdoor control of her own envelope and close it."""
    form = without_outdoor(settled)
    inspector, clerk = settled.person("inspector"), settled.person("clerk")
    samples = [each["sample"] for each in inspector.answer("show", form)["samples"]]
    kid = clerk.answer("key", "show")["kid"]
    inspector.run("give", *samples, "--to", "harrow-field", "--to-key", kid, "--purpose", "shipping")
    clerk.run("take", *samples, "--condition", "intact", "--purpose", "shipping")
    told = flat(clerk.run("except", "OC-01", form, "--reason", "outdoor_impossible"))
    assert "You hold these samples. If you seal or ship them yourself, this exception will not count." in told
    inspector.run("rule-out-outdoor", form, "--reason", "storm")
    said = clerk.run("seal", *samples, "--envelope", ENVELOPE, "--counted", "2", *SEAL, code=1)
    assert "NOT READY" in said
    assert "OC-01" in said
    told = settled.person("quality").run("except", "OC-01", form, "--reason", "outdoor_impossible")
    assert "You hold" not in told
    clerk.run("seal", *samples, "--envelope", ENVELOPE, "--counted", "2", *SEAL)


def test_an_excepted_row_says_by_whom_and_why_and_no_cure(settled: Town) -> None:
    """The row would still send somebody out to take the control that is allowed to be missing."""
    form = without_outdoor(settled)
    settled.person("quality").run("except", "OC-01", form, "--reason", "outdoor_impossible")
    said = flat(settled.person("inspector").run("check", form, code=None))
    assert "allowed by exception, signed by Quality Person: outdoor impossible" in said
    told = settled.person("inspector").answer("check", form, code=None)
    (found,) = (each for each in told["findings"] if each["rule"] == "OC-01")
    assert found["remedy"].startswith("Nothing to fix")
    assert found["remedy"] in said


def test_the_number_must_be_the_one_the_finding_names(settled: Town) -> None:
    """An exception about a sample would stand beside a finding about its form, and allow nothing."""
    form = without_outdoor(settled)
    sample = settled.person("inspector").answer("show", form)["samples"][0]["sample"]
    said = flat(
        settled.person("quality").run("except", "OC-01", sample, "--reason", "outdoor_impossible", code=2)
    )
    assert f"it has one about {numbers.grouped(form)}" in said


def test_what_the_desk_is_told_before_sealing_can_be_allowed_before_sealing(
    visited: tuple[Town, list[str]],
) -> None:
    """The clerk would read that the envelope is too old to be sealed, and the quality role that nothing is
    wrong with it.
    """
    town, samples = visited
    town.clock.advance(days=8)  # the limit is 168 h: common practice, no source
    clerk, quality = town.person("clerk"), town.person("quality")
    seal = ("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    assert "SH-02" in clerk.run(*seal, code=1)
    allow = ("except", "SH-02", ENVELOPE, "--form", form_of(town), "--reason", "lab_accepts")
    said = quality.run(*allow)
    assert "finds nothing" not in said
    assert "Recorded: excepted" in said
    told = clerk.run(*seal, code=None)
    assert "allowed by exception, signed by Quality Person: lab accepts" in flat(told)


def test_an_exception_of_what_is_not_found_yet_says_when_it_would_be(
    visited: tuple[Town, list[str]],
) -> None:
    """A Saturday delivery not asked about yet would seem to need no exception, and a program would read a
    sentence in its JSON.
    """
    town, samples = visited
    town.person("clerk").run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    allow = ("except", "SH-05", ENVELOPE, "--reason", "lab_accepts")
    said = flat(town.person("quality").run(*allow))
    assert "what rests on the shipment shows only when `bailee ship` asks" in said
    assert isinstance(town.person("second").answer(*allow), list)


@pytest.mark.slow
@pytest.mark.parametrize(("key", "code"), [("n", 1), ("y", 0)])
def test_at_a_terminal_forms_that_the_ledger_names_are_shown_and_asked_about(
    settled: Town, key: str, code: int
) -> None:
    """A service that names another form would have her signature on a visit that she never saw."""
    form = without_outdoor(settled)
    inspector, quality = settled.person("inspector"), settled.person("quality")
    sample = inspector.answer("show", form)["samples"][0]["sample"]
    words = ("except", "CL-09", sample, "--reason", "other")
    with served(settled), Terminal(quality, *words) as screen:
        shown = flat(screen.sees("Sign: excepted?"))
        assert f"On form {numbers.grouped(form)}: {numbers.grouped(sample)}" in shown
        screen.sees(": ")
        screen.types(f"{key}\n")
        ended, rest = screen.ends()
    assert ended == code, rest
    assert len(signed(quality, "excepted")) == 1 - code


def test_of_an_exception_every_form_is_named_in_the_answer(settled: Town) -> None:
    """A script signs on the forms that the ledger names, and its log would not say on which."""
    form = without_outdoor(settled)
    quality = settled.person("quality")
    sample = settled.person("inspector").answer("show", form)["samples"][0]["sample"]
    words = ("except", "CL-09", sample, "--reason", "other")
    assert [each["chain"] for each in quality.answer(*words)] == [f"form/{form}"]
    assert f"Recorded: excepted, form {numbers.grouped(form)}, entry" in flat(
        quality.run(*words[:-1], "documented_elsewhere")
    )


def test_where_a_form_is_typed_an_exception_is_signed_on_no_other(
    settled: Town, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The answer of a service would decide on which visit she signs, whatever she typed."""
    form = without_outdoor(settled)
    quality = settled.person("quality")
    honest = LedgerClient.get

    def lying(service: LedgerClient, path: str, **query: Any) -> Any:
        told = honest(service, path, **query)
        return {**told, "forms": ["F7K3M9Q2XF4P"]} if path == "/exceptions" else told

    monkeypatch.setattr(LedgerClient, "get", lying)
    words = ("except", "OC-01", form, "--reason", "outdoor_impossible", "--form", form)
    assert [each["chain"] for each in quality.answer(*words)] == [f"form/{form}"]


def test_what_is_wrong_about_a_cassette_voided_before_it_was_collected_is_told(settled: Town) -> None:
    """If this fails, the reason of a dropped cassette cannot be corrected, and the screen speaks of a label
    that nobody used.
    """
    _, (sample, *_) = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    form = inspector.outbox()[-1]["chain"].removeprefix("form/")
    inspector.run("void", sample, "--reason", "lost", "--form", form, "--yes")
    assert "reason" in inspector.run("correct", sample)
    said = inspector.run("correct", sample, "pump=P-8", "--reason", "misread", code=2)
    assert "(voided) has no pump" in said
    inspector.run("correct", sample, "reason=dropped", "--reason", "typing")
    said = " ".join(inspector.run("give", sample, "--to", FIRM, code=2).split())
    assert "is void (dropped), and was not collected before that." in said
