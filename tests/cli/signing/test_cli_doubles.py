"""What is typed twice is said once, and what was scanned is not lost."""

from __future__ import annotations

import pytest

from bailee.domain import numbers
from field import FIRM, LAB
from town import ENVELOPE, INDOOR, INTACT, OPEN, OUTDOOR, SEAL, Town, collect, dock, to_the_clerk

SHIP = ("--carrier", "acorn-freight", "--service", "next day", "--tracking", "AF-1", "--yes")


def test_what_waits_is_sent_and_not_signed_a_second_time(settled: Town) -> None:
    """If this fails, a dead spot in the basement turns one cassette into two statements that contradict each
    other.
    """
    _, samples = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    settled.line.weather = "down"
    settled.clock.advance(minutes=5)
    inspector.run("collect", samples[0], *INDOOR)
    settled.clock.advance(minutes=30)
    said = inspector.run("collect", samples[0], *INDOOR)
    assert "Signed already at 14:05, waiting to be sent: collected" in said
    assert "`bailee send` sends it" in said
    assert len(inspector.outbox()) == 2
    settled.line.weather = "fine"
    said = inspector.run("collect", samples[0], *INDOOR)
    assert "Signed already at 14:05" in said
    assert "Recorded: collected" in said
    said = inspector.run("collect", samples[0], *INDOOR, code=1)
    assert "Recorded already: collected" in said
    assert "entry 2. Nothing was signed" in said
    settled.clock.advance(minutes=10)
    inspector.run("collect", samples[1], *INDOOR)
    assert [each["act"] for each in inspector.outbox()] == ["opened", "collected", "collected"]


def test_an_answer_lost_on_the_way_is_no_reason_to_sign_again(visited: tuple[Town, list[str]]) -> None:
    """If this fails, a tunnel between two masts makes the clerk seal and hand over everything twice."""
    town, samples = visited
    clerk = town.person("clerk")
    seal = ("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    for command in (seal, ("ship", ENVELOPE, *SHIP)):
        town.line.weather = "answer lost"
        assert "not sent yet" in clerk.run(*command)
        town.line.weather = "fine"
        said = clerk.run(*command)
        assert "Signed already at 14:30" in said
        assert "Recorded: " in said
        assert "already" in clerk.run(*command, code=1)
    assert [each["act"] for each in clerk.outbox()] == ["received", "sealed", "shipped"]


def test_other_facts_are_shown_and_signed_only_if_both_are_meant(settled: Town) -> None:
    """If this fails, a slip that is typed again rightly leaves two runs of one cassette, and nobody saw the
    difference.
    """
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    settled.line.weather = "down"
    settled.clock.advance(minutes=5)
    inspector.run("collect", samples[0], *INDOOR)
    settled.clock.advance(minutes=5)
    other = ("collect", samples[0], *INDOOR, "--flow-after", "14.8", "--note", "read again")
    said = inspector.run(*other, code=1)
    assert "flow after was 14.9, is now 14.8; note was not entered, is now read again." in said
    assert "signed at 14:05, which waits to be sent" in said
    assert inspector.answer(*other, code=1)["differs"] == ["flow_after", "note"]
    assert len(inspector.outbox()) == 2
    inspector.run(*other, "--both")
    assert len(inspector.outbox()) == 3
    assert "Signed already at 14:10" in inspector.run(*other)


@pytest.mark.parametrize(("typed", "differs"), [("09:00", False), ("09:02", True)])
def test_a_time_that_was_typed_is_a_fact(settled: Town, typed: str, differs: bool) -> None:
    """If this fails, the right time typed after a wrong one is taken for the same thing said again, and is
    dropped.
    """
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    settled.line.weather = "down"
    settled.clock.advance(minutes=20)
    inspector.run("collect", samples[0], *INDOOR, "--started", "09:00")
    settled.clock.advance(minutes=20)
    said = inspector.run("collect", samples[0], *INDOOR, "--started", typed, code=1 if differs else 0)
    assert ("Different: started was" in said) == differs


def test_a_form_is_opened_once_and_keeps_its_number(settled: Town) -> None:
    """If this fails, every try without a network leaves an empty form behind, and cassettes are spread over
    several.
    """
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    settled.line.weather = "down"
    first = inspector.run(*OPEN)
    again = inspector.run(*OPEN)
    assert [line for line in again.splitlines() if line.startswith("Form F")] == [
        line for line in first.splitlines() if line.startswith("Form F")
    ]
    assert len(inspector.outbox()) == 1
    inspector.run("collect", samples[0], *INDOOR, "--lot", numbers.issue("lot", lambda _: "3"))
    inspector.run(*OPEN)
    assert [each["act"] for each in inspector.outbox()] == ["opened", "collected", "opened"]


def test_what_went_out_of_my_hands_can_be_taken_again(visited: tuple[Town, list[str]]) -> None:
    """If this fails, a box carried to and fro without a network has a link missing."""
    town, samples = visited
    clerk = town.person("clerk")
    (form,) = {each["chain"] for each in clerk.outbox()}
    give = ("give", *samples[:3], "--to", "harrow-field", "--form", form.removeprefix("form/"), "--offline")
    take = ("take", *samples[:3], "--condition", "intact", "--form", form.removeprefix("form/"), "--offline")
    for command in (give, give, take, take, give, take):
        clerk.run(*command)
        town.clock.advance(minutes=1)
    acts = [each["act"] for each in clerk.outbox()]
    assert acts == ["received", "relinquished", "received", "relinquished", "received"]


def test_a_hand_over_that_is_recorded_is_not_signed_again(settled: Town) -> None:
    """If this fails, an arrow up and Enter in the car park hands one box over twice, and nobody can say which
    time it was.
    """
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, samples[0], INDOOR)
    give = ("give", samples[0], "--to", FIRM)
    inspector.run(*give)
    settled.clock.advance(minutes=30)
    said = inspector.run(*give, code=1)
    assert "Recorded already: relinquished" in said
    assert "Nothing was signed" in said
    inspector.run("give", samples[0], "--to", LAB)  # the first one drove away without it
    inspector.run("take", samples[0], "--condition", "intact", "--both")
    inspector.run("give", samples[0], "--to", LAB)
    acts = [each["act"] for each in inspector.outbox()][2:]
    assert acts == ["relinquished", "relinquished", "received", "relinquished"]


@pytest.mark.parametrize(("minutes", "count"), [(9, 3), (10, 4)])
def test_the_same_said_later_is_something_else(settled: Town, minutes: int, count: int) -> None:
    """If this fails, an inspector without a network cannot say a second time where the samples are kept."""
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    settled.line.weather = "down"
    kept = ("secure", "--how", "locked", "--where", "vehicle", "--offline")
    inspector.run(*kept)
    inspector.run(*kept, "--note", "another note is another statement")
    settled.clock.advance(minutes=minutes)
    inspector.run(*kept, "--note", "another note is another statement")
    assert len(inspector.outbox()) == count


@pytest.mark.parametrize(("ahead", "code"), [("14:05", 0), ("14:06", 2)])
def test_nobody_says_what_is_still_to_come(settled: Town, ahead: str, code: int) -> None:
    """If this fails, a slip in the hour is signed, and the person hears of it when it cannot be unsaid.

    Five minutes: common practice.
    """
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, samples[0], INDOOR)
    settled.clock.now = settled.clock.now.replace(hour=19, minute=0, second=0)
    said = inspector.run(
        "secure",
        "--how",
        "locked",
        "--where",
        "vehicle",
        "--at",
        ahead,
        "--zone",
        "America/New_York",
        code=code,
    )
    assert ("in the future" in said) == (code == 2)
    if code == 2:
        assert "by the clock of this device, 2026-12-01 14:00 (-05:00)" in " ".join(said.split())


def test_an_envelope_is_sealed_handed_over_and_received_once(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, a second airbill or a second opening stands in the record, and nobody knows which one
    was meant.
    """
    town, samples = shipped
    clerk = town.person("clerk")
    said = clerk.run("ship", ENVELOPE, *SHIP, code=1)
    assert "shipped with acorn-freight" in said
    assert "Nothing was signed" in said
    said = clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL, code=1)
    assert "was sealed with C-4711" in said
    assert clerk.answer("ship", ENVELOPE, *SHIP, code=1)["code"] == "shipped-already"
    assert len(clerk.outbox()) == 3
    arrived = (*INTACT, "--counted", "3", *samples[:3])
    dock(town, *arrived)
    assert "was received on" in town.person("dock").run("receive", ENVELOPE, *arrived, code=1)
    assert len(town.person("dock").outbox()) == 1
    assert "Recorded: received" in dock(town, *arrived, "--both")


def test_what_was_missing_is_received_when_it_is_found(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, a cassette that lay under the flap stays missing for ever, or the whole envelope is
    received twice.
    """
    town, samples = shipped
    dock(town, *INTACT, "--counted", "2", "--closed-again-seal", "q-99", *samples[:2])
    again = ("--seal", "Q-99", *INTACT[2:], "--package", "sound", "--record-enclosed", "--yes")
    again = (*again, "--counted", "1", "--found", "packing")
    worker = town.person("dock")
    assert "was received on" in worker.run("receive", ENVELOPE, *samples[1:3], *again, code=1)
    assert "closed again by the dock Q-99" in " ".join(worker.run("show", ENVELOPE).split())
    found = worker.run("receive", ENVELOPE, samples[2], *again)
    assert "Discrepancies: none." in found
    assert "Recorded: received" in found
    assert "(found: packing)" in " ".join(worker.run("show", samples[2]).split())
    assert "was received on" in worker.run("receive", ENVELOPE, samples[2], *again, code=1)


def test_what_was_opened_again_can_be_sealed_again(visited: tuple[Town, list[str]]) -> None:
    """If this fails, the forgotten control can no longer be added to its envelope."""
    town, samples = visited
    clerk = town.person("clerk")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    clerk.run("unseal", ENVELOPE, "--reason", "inspection", "--seal", "C-4711")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", "--seal", "C-4712", *SEAL[2:])


def test_nobody_takes_what_is_already_theirs(visited: tuple[Town, list[str]]) -> None:
    """If this fails, a double tap at the desk puts a gap without a giver into the chain."""
    town, samples = visited
    said = town.person("clerk").run("take", *samples[:3], "--condition", "intact", code=1)
    assert f"You hold {numbers.grouped(samples[0])}" in said
    assert len(town.person("clerk").outbox()) == 1


def test_a_tracking_number_used_twice_is_said(visited: tuple[Town, list[str]]) -> None:
    """If this fails, two envelopes seem to travel under one airbill, and one of them cannot be found."""
    town, first = visited
    clerk = town.person("clerk")
    clerk.run("seal", *first[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    clerk.run("ship", ENVELOPE, *SHIP)
    _, samples = town.lot(3)
    town.person("inspector").run(*OPEN)
    for sample, what in zip(samples, (INDOOR, INDOOR, OUTDOOR), strict=True):
        collect(town, sample, what)
    to_the_clerk(town, samples)
    second = numbers.issue("envelope", lambda _: "4")
    clerk.run("seal", *samples, "--envelope", second, "--counted", "3", "--seal", "C-4712", *SEAL[2:])
    said = " ".join(clerk.run("ship", second, *SHIP, code=None).split())
    assert (
        f"and for envelope {numbers.grouped(ENVELOPE)}" in said
        or f"and for {numbers.grouped(ENVELOPE)}" in said
    )
    assert "SH-06" in said


def test_scans_outlive_a_refusal(visited: tuple[Town, list[str]]) -> None:
    """If this fails, a forgotten cassette costs the clerk all the others, and the label on the envelope is
    for the bin.
    """
    town, samples = visited
    clerk = town.person("clerk")
    first = clerk.run("seal", "--seal", "C-4711", typed=f"{samples[0]}\n{samples[1]}\n\n3\ny\ny\n", code=1)
    assert "NOT READY" in first
    said = clerk.run("seal", *SEAL, typed=f"{samples[2]}\n\n-3\n3\n")
    assert "Begun at 14:30, and not signed" in said
    assert "Saved: envelope" in first
    assert "'-3' will not do: write a whole number of at least 0." in said
    assert "Recorded: sealed" in said
    (number,) = {each["data"]["envelope"] for each in sealed(town)}
    assert numbers.grouped(number) in said
    assert "Begun at" not in clerk.run("seal", typed="\n", code=2)


def test_another_envelope_or_anew_begins_with_nothing_in_it(visited: tuple[Town, list[str]]) -> None:
    """If this fails, cassettes of an abandoned envelope slip into the manifest of the next."""
    town, samples = visited
    clerk = town.person("clerk")
    for fresh in (("--anew",), ("--envelope", ENVELOPE)):
        clerk.run("seal", samples[0], "--counted", "2", *SEAL, code=1)
        assert "Nothing was scanned" in clerk.run("seal", *fresh, typed="\n", code=2)


def test_two_envelopes_lie_on_one_desk(visited: tuple[Town, list[str]]) -> None:
    """If this fails, the first envelope's scans go when the clerk begins the second, or both
    get one number.
    """
    town, samples = visited
    clerk = town.person("clerk")
    clerk.run("seal", "--envelope", ENVELOPE, typed=f"{samples[0]}\n{samples[1]}\n\n", code=2)
    other = clerk.run("seal", samples[2], "--counted", "2", *SEAL, code=1)
    assert numbers.grouped(ENVELOPE) not in other
    said = clerk.run("seal", "--envelope", ENVELOPE, *SEAL, typed=f"{samples[2]}\n\n3\n")
    assert f"Begun at 14:30, and not signed: envelope {numbers.grouped(ENVELOPE)}, 2 scanned" in said
    assert "Recorded: sealed" in said


def test_a_spare_scanned_in_is_left_out(visited: tuple[Town, list[str]]) -> None:
    """If this fails, one cassette too many can only be got rid of by scanning all the others again."""
    town, samples = visited
    clerk = town.person("clerk")
    clerk.run("seal", *samples[:4], "--envelope", ENVELOPE, "--counted", "4", *SEAL, code=1)
    said = clerk.run("seal", "--envelope", ENVELOPE, "--leave-out", samples[3], *SEAL, typed="\n3\n")
    assert "seal C-4711: 3 samples" in said


def test_an_envelope_signed_before_the_desk_was_cleared_is_not_offered(
    visited: tuple[Town, list[str]],
) -> None:
    """If this fails, a battery that dies after signing leaves an envelope that seems to
    want sealing again.
    """
    from bailee_cli.signing import scans

    town, samples = visited
    clerk = town.person("clerk")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    session = clerk.session().of("clerk", as_json=False)
    scans.keep(session, "seal", ENVELOPE, samples[:3])
    assert scans.begun(session, "seal") == []
    session.close()


def test_scans_at_the_dock_outlive_an_end(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, the dock scans a whole envelope again because somebody leaned on the keyboard."""
    town, samples = shipped
    worker = town.person("dock")
    answers = (
        *INTACT,
        "--package",
        "sound",
        "--record-enclosed",
    )
    said = worker.run("receive", *answers, typed=f"{ENVELOPE}\n{samples[0]}\n{samples[1]}\n\n", code=2)
    assert f"Saved: 2 scanned. `bailee receive {ENVELOPE}` goes on with it." in said
    said = worker.run("receive", ENVELOPE, *answers, "--yes", typed=f"{samples[2]}\n\ny\n-1\n3\n")
    assert "Discrepancies: none." in said
    assert "Recorded: received" in said


def test_what_was_refused_can_be_given_up_and_is_kept(settled: Town) -> None:
    """If this fails, one refused statement is sent with every later one for ever, or vanishes although its
    number is missing.
    """
    inspector = settled.person("inspector")
    nowhere, sample = numbers.issue("form", lambda _: "7"), numbers.issue("sample", lambda _: "7")
    void = ("void", "--form", nowhere, sample, "--reason", "dropped", "--note", "fell into the sink")
    assert "--set-aside 1" in inspector.run(*void, code=1)
    assert "Aborted" in inspector.run("outbox", "--set-aside", "1", typed="n\n", code=1)
    said = inspector.run("outbox", "--set-aside", "1", typed="y\n")
    assert "note     fell into the sink  (private)" in said
    assert f"refused: There is no form {nowhere} here" in said
    assert "number 1 stays missing" in said
    assert "Set aside: voided" in said
    assert inspector.run("send", "--again") == "Nothing is waiting.\n"
    (kept,) = inspector.outbox()
    assert kept["state"] == "set aside"
    assert inspector.answer("outbox", "--show", "1")["private"] == {"note": "fell into the sink"}
    assert "was not refused" in inspector.run("outbox", "--set-aside", "1", code=2)
    assert "no entry 2" in inspector.run("outbox", "--set-aside", "2", code=2)
    inspector.run("outbox", "--take-up", "1")
    assert "was not set aside" in inspector.run("outbox", "--take-up", "1", code=2)
    assert [each["state"] for each in inspector.answer("send", "--again", code=1)] == ["refused"]


def test_what_was_given_up_leaves_its_number_missing_and_forks_nothing(settled: Town) -> None:
    """If this fails, the counter of a refused statement is used again, and the device looks as if its key
    were in two hands.
    """
    inspector = settled.person("inspector")
    nowhere, sample = numbers.issue("form", lambda _: "7"), numbers.issue("sample", lambda _: "7")
    inspector.run("void", "--form", nowhere, sample, "--reason", "dropped", code=1)
    inspector.run("outbox", "--set-aside", "1", "--yes")
    said = inspector.run(*OPEN)
    assert "1 earlier entry of this device has not reached the ledger" in said
    (form,) = [each["chain"].removeprefix("form/") for each in inspector.outbox() if each["act"] == "opened"]
    assert "CU-10" in inspector.run("check", form, code=None)
    assert [each["seq"] for each in inspector.outbox()] == [1, 2]


def sealed(town: Town) -> list[dict[str, dict[str, str]]]:
    """What the clerk's device signed as sealed."""
    from bailee_cli.signing import submit

    outbox = town.person("clerk").session().of("clerk", as_json=False).outbox
    found = [{"data": dict(submit.data_of(each))} for each in outbox.newest(50) if each.act == "sealed"]
    outbox.close()
    return found


@pytest.mark.slow
def test_a_number_that_somebody_else_used_first_does_not_take_the_receipt(
    visited: tuple[Town, list[str]],
) -> None:
    """If this fails, the samples that lie open on the dock stay "not received" while a stranger's form has
    their receipt.
    """
    town, samples = visited
    third(town)
    clerk, worker = town.person("clerk"), town.person("dock")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    clerk.run("ship", ENVELOPE, *SHIP)
    town.clock.now = town.clock.now.replace(day=2, hour=16, minute=30)
    arrived = (
        *INTACT,
        "--counted",
        "3",
        "--record-pages",
        "2",
    )
    [form] = {clerk.answer("show", sample)["form"] for sample in samples[:3]}

    unread = dock(town, *arrived, "?", code=1)
    assert "do not decide" in unread
    assert numbers.grouped(form) in unread
    scanned = dock(town, *arrived, typed="".join(f"{each}\n" for each in (*samples[:3], "", "y")))
    assert "Discrepancies: none" in scanned
    said = worker.run("receive", ENVELOPE, *samples[:3], *arrived, code=1)
    assert "was received on" in said
    for sample in samples[:3]:
        assert clerk.answer("show", sample)["state"]["status"] == "received"


def third(town: Town) -> None:
    """An organization of its own, whose form names the same laboratory, seals two cassettes under the
    envelope's number.
    """
    root = town.person("third-root", "third-house")
    root.join()
    root.run("found", "third-house", "--name", "Third House", "--person", "Root Person")
    for name, role in (("third-keeper", "media_keeper"), ("third-inspector", "inspector")):
        person, request = town.person(name, "third-house"), str(town.folder / f"{name}.json")
        person.join()
        person.run("key", "request", "--person", name, "-o", request)
        root.run("enroll", request, "--role", role, "--checked", "in_person")
    ours = town.people["keeper"], town.people["inspector"]
    town.people |= {"keeper": town.people["third-keeper"], "inspector": town.people["third-inspector"]}
    _, samples = town.lot(2)
    inspector = town.person("inspector")
    inspector.run(*OPEN)
    for sample, what in zip(samples, (INDOOR, OUTDOOR), strict=True):
        collect(town, sample, what)
    inspector.run("seal", *samples, "--envelope", ENVELOPE, "--counted", "2", *SEAL)
    town.people |= {"keeper": ours[0], "inspector": ours[1]}
