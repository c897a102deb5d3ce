"""Scans are kept until they have led to something: give, take, kit and the dock, as the sealing desk does.

What is kept and how it is gone on with is our own promise (guides/typing.md, "Labels and scanners"); no
outside source.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest

from bailee.domain import numbers
from bailee_cli.signing import scans
from field import FIRM
from terminal import CTRL_C, Terminal, served
from town import ENVELOPE, INTACT, Town, last

VISIT = ("kit", "--visit", "2026-12-02", "--pump-valid-to", "2027-01-31", "--meter-valid-to", "2027-01-31")
DOCK = (
    "receive",
    ENVELOPE,
    *INTACT,
    "--package",
    "sound",
    "--record-enclosed",
    "--yes",
)


def given(town: Town) -> list[list[str]]:
    """The samples of each hand-over that the inspector signed."""
    inspector = town.person("inspector")
    each = [told for told in inspector.outbox() if told["act"] == "relinquished"]
    return [inspector.answer("outbox", "--show", str(told["seq"]))["data"]["samples"] for told in each]


def test_a_hand_over_that_is_refused_keeps_its_scans(collected: tuple[Town, list[str]]) -> None:
    """If this fails, one cassette nobody collected costs the inspector in the car park all the others."""
    town, samples = collected
    inspector = town.person("inspector")
    typed = "\n".join([samples[0], samples[3], "", ""])
    said = inspector.run("give", "--to", FIRM, typed=typed, code=2)
    assert "was issued and not collected" in said
    assert f"Saved: for {FIRM}, 2 scanned. `bailee give --to {FIRM}` goes on with it." in said
    assert given(town) == []
    said = inspector.run("give", "--to", FIRM, "--leave-out", samples[3], typed=f"{samples[1]}\n\n")
    assert f"not signed: for {FIRM}, 2 scanned" in said
    assert given(town) == [samples[:2]]
    assert "Begun at" not in inspector.run("give", "--to", FIRM, typed="\n", code=2)


def test_nothing_scanned_is_not_a_hand_over(collected: tuple[Town, list[str]]) -> None:
    """If this fails, an empty line at the scanner ends with 0, and the inspector believes that the cassettes
    were given.
    """
    town, _ = collected
    for verb in (("give", "--to", FIRM), ("take",)):
        assert "Nothing was scanned. Nothing was signed" in town.person("inspector").run(
            *verb, typed="\n", code=2
        )


def test_what_one_is_to_get_is_not_given_to_another(collected: tuple[Town, list[str]]) -> None:
    """If this fails, scans for the laboratory are signed over to whoever comes next, and named cassettes wipe
    out scanned ones.
    """
    town, samples = collected
    inspector = town.person("inspector")
    inspector.run("give", "--to", FIRM, typed=f"{samples[0]}\n{samples[3]}\n\n", code=2)
    assert "Begun at" not in inspector.run("give", "--to", "quill-lab", typed=f"{samples[1]}\n\n")
    inspector.run("give", samples[2], "--to", FIRM)
    assert given(town) == [[samples[1]], [samples[2]]]
    assert "2 scanned" in inspector.run("give", "--to", FIRM, "--leave-out", samples[3], typed="\n")


def test_taking_over_goes_on_after_a_refusal(collected: tuple[Town, list[str]]) -> None:
    """If this fails, the clerk scans a whole box again because the first answer about a condition
    was a slip.
    """
    town, samples = collected
    kid = town.person("clerk").answer("key", "show")["kid"]
    town.person("inspector").run("give", *samples[:3], "--to", FIRM, "--to-key", kid)
    clerk = town.person("clerk")
    said = clerk.run("take", "--anyway", typed=f"{samples[0]}\n{samples[1]}\n\nbroken in two\n", code=2)
    assert "--condition is missing" in said
    assert "Saved: 2 scanned. `bailee take` goes on with it." in said
    said = clerk.run("take", "--condition", "intact", typed=f"{samples[2]}\n\n")
    assert "It goes on with that; --anew forgets it." in said
    assert "Recorded: received" in said
    assert len(clerk.answer("outbox", "--show", "1")["data"]["items"]) == 3
    said = clerk.run("take", "--condition", "intact", typed=f"{samples[0]}\n\n", code=1)
    assert "You hold" in said
    assert "Nothing was scanned" in clerk.run("take", "--anew", typed="\n", code=2)
    assert "Begun at" not in clerk.run("take", typed="\n", code=2)


def test_what_was_signed_before_the_desk_was_cleared_is_not_offered(
    collected: tuple[Town, list[str]],
) -> None:
    """If this fails, a battery that dies after signing makes the inspector give the same cassettes twice."""
    town, samples = collected
    inspector = town.person("inspector")
    inspector.run("give", *samples[:2], "--to", FIRM)
    session = inspector.session().of("inspector", as_json=False)
    scans.keep(session, "give", FIRM, samples[:2])
    assert scans.begun(session, "give") == []
    scans.keep(session, "give", FIRM, samples[:3])
    assert [each.samples for each in scans.begun(session, "give")] == [tuple(samples[:3])]
    session.close()


def test_a_kit_that_will_not_do_is_gone_on_with(settled: Town) -> None:
    """If this fails, one cassette out of date at the shelf means pump, meter and eleven
    labels scanned again.
    """
    _, good = settled.lot(3)
    _, (old,) = settled.lot(1, expiry="2026-12-01")
    inspector = settled.person("inspector")
    said = inspector.run(*VISIT, typed="\n".join(["P-7", "M-3", good[0], good[1], old, "", ""]), code=1)
    assert "KIT NOT READY" in said
    assert "Saved: kit for 2026-12-02, 3 scanned. `bailee kit --visit 2026-12-02` goes on with it." in said
    said = inspector.run(*VISIT, "--leave-out", old, typed=f"\n\n{good[2]}\n\n")
    assert "pump (Enter: P-7)" in said
    assert "Kit ready for 2026-12-02: 3 cassettes." in said
    assert "Begun at" not in inspector.run(*VISIT, typed="\n\n\n", code=1)


@pytest.mark.parametrize(("hours", "is_kept"), [(23, True), (25, False)])
def test_a_kit_of_a_day_that_is_over_is_forgotten(settled: Town, hours: int, is_kept: bool) -> None:
    """If this fails, the kits of a year lie in a file on the phone, or today's is gone before
    it is packed.
    """
    session = settled.person("inspector").session().of("inspector", as_json=False)
    today = session.now.astimezone().date()
    begin = datetime.combine(today, datetime.min.time()).astimezone().astimezone(UTC)
    scans.keep(session, "kit", today.isoformat(), [numbers.issue("sample", lambda _: "7")])
    session.__dict__["now"] = begin + timedelta(hours=hours)
    assert bool(scans.begun(session, "kit")) == is_kept
    session.close()


def test_a_wrong_scan_at_the_dock_can_be_taken_back(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, a cassette of another envelope that was scanned by mistake is recorded as found in this
    one.
    """
    town, samples = shipped
    worker = town.person("dock")
    typed = "\n".join([samples[0], samples[3], ""])
    assert "Saved: 2 scanned" in worker.run(*DOCK, typed=f"{typed}\n", code=2)
    said = worker.run(*DOCK, "--leave-out", samples[3], typed=f"{samples[1]}\n{samples[2]}\n\ny\n3\n")
    assert "Discrepancies: none." in said


def test_what_came_damaged_is_a_discrepancy(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, the dock reads "none" over a wet cassette, and calls nobody."""
    town, samples = shipped
    typed = "\n".join([*samples[:3], "", "n", "wet", "intact", "intact", "3", ""])
    said = town.person("dock").run(*DOCK, typed=f"{typed}\n", code=None)
    assert f"Discrepancies: {numbers.grouped(samples[0])}: wet." in said


def test_the_dock_may_begin_anew(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, what was scanned from the neighbor's box can only be got rid of cassette by cassette."""
    town, samples = shipped
    worker = town.person("dock")
    worker.run(*DOCK, typed=f"{samples[3]}\n\n", code=2)
    said = worker.run(*DOCK, "--anew", typed="\n".join([*samples[:3], "", "y", "3", ""]))
    assert "Begun at" not in said
    assert "Discrepancies: none." in said


@pytest.mark.slow
def test_ctrl_c_costs_no_scan_of_a_hand_over(collected: tuple[Town, list[str]]) -> None:
    """If this fails, an inspector who leans on the wrong keys in the rain scans everything again."""
    town, samples = collected
    inspector = town.person("inspector")
    with served(town):
        with Terminal(inspector, "give", "--to", FIRM, "--purpose", "shipping") as screen:
            for sample in samples[:2]:
                screen.sees("scan: ")
                screen.types(f"{sample}\n")
            screen.sees("scan: ")
            screen.types(CTRL_C)
            code, rest = screen.ends()
        assert (code, f"Saved: for {FIRM}, 2 scanned." in rest) == (1, True), rest
        with Terminal(inspector, "give", "--to", FIRM, "--purpose", "shipping") as screen:
            assert "n begins with the first cassette again" in " ".join(screen.sees("[y/n]: ").split())
            screen.types("y\n")
            screen.sees("scan: ")
            screen.types(f"{samples[2]}\n")
            screen.sees("scan: ")
            screen.types("\n")
            screen.sees("counted (Enter: not counted): ")
            screen.types("\n")
            screen.sees("y signs, n signs nothing, a number changes that line: ")
            screen.types("y\n")
            code, rest = screen.ends()
    assert code == 0, rest
    assert given(town) == [samples[:3]]


@pytest.mark.slow
def test_who_does_not_go_on_with_a_kit_begins_with_none(settled: Town) -> None:
    """If this fails, the second kit of a day is judged with the first one's cassettes."""
    _, samples = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*VISIT, "--pump", "P-7", "--meter", "M-3", typed=f"{samples[0]}\n\n", code=1)
    with served(settled), Terminal(inspector, *VISIT) as screen:
        screen.sees("[y/n]: ")
        screen.types("n\n")
        screen.sees("pump (Enter: none)")
        screen.types("\n")
        screen.sees("flow meter (Enter: none)")
        screen.types("\n")
        screen.sees("scan: ")
        screen.types(f"{samples[1]}\n")
        screen.sees(f"1: {numbers.grouped(samples[1])}")
        screen.types("\n")
        screen.sees("End of the scans? 1 scanned [y/n]: ")
        screen.types("n\n")
        screen.sees("scan: ")
        screen.types(CTRL_C)
        code, rest = screen.ends()
    assert (code, "1 scanned" in rest) == (1, True), rest


@pytest.mark.slow
def test_a_line_changed_at_the_dock_costs_no_scan_and_no_answer(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, a dock worker who corrects one line and then breaks off scans everything again."""
    town, samples = shipped
    worker = town.person("dock")
    with served(town):
        with Terminal(worker, *DOCK[:-1]) as screen:
            screen.sees("Temperature inside")
            screen.types("\n")
            for sample in samples[:3]:
                screen.sees("scan: ")
                screen.types(f"{sample}\n")
            screen.sees("scan: ")
            screen.types("\n")
            screen.sees("counted by hand")
            screen.sees(": ")
            screen.types("3\n")
            screen.sees("is each intact?")
            screen.sees(": ")
            screen.types("y\n")
            at = _number_of(screen.sees("Sign: received?"), "at ")
            screen.sees(": ")
            screen.types(f"{at}\n")
            screen.sees("]: ")
            screen.types("2026-12-09 10:00\n")
            assert "is in the future" in screen.sees("Type it again; or n: ")
            screen.types("2026-12-02 10:00\n")
            shown = screen.sees("Sign: received?")
            assert "10:00" in shown
            screen.sees(": ")
            screen.types(f"{_number_of(shown, 'seal ')}\n")
            screen.sees("]: ")
            screen.types("\n")
            screen.sees("Sign: received?")
            screen.sees(": ")
            screen.types(CTRL_C)
            code, rest = screen.ends()
        assert (code, "Saved: 3 scanned, 2 answered." in rest) == (1, True), rest
        with Terminal(worker, *DOCK[:-1]) as screen:
            screen.sees("3 scanned, 2 answered")
            screen.sees("scan: ")
            screen.types(CTRL_C)
            code, rest = screen.ends()
    assert "Saved: 3 scanned, 2 answered." in rest


def _number_of(shown: str, label: str) -> str:
    """The number of a line on the screen before the signature."""
    found = re.search(rf"^ *([0-9]+)  {label}", shown, re.MULTILINE)
    assert found, shown
    return found[1]


@pytest.mark.slow
def test_one_that_was_forgotten_is_scanned_where_the_count_is_asked_back(
    visited: tuple[Town, list[str]],
) -> None:
    """The clerk scans the missing cassette, as anybody would, and is told to begin again."""
    town, samples = visited
    with served(town):
        with Terminal(town.person("clerk"), "seal") as screen:
            for each in (*samples[:2], "3"):
                screen.sees("scan: ")
                screen.types(f"{each}\n")
            screen.sees("Count again, or scan the one that is missing; or y: it is so; or n")
            screen.types(f"{samples[0]}\n")
            screen.sees("was scanned already.")
            screen.types(f"{samples[2]}\n")
            screen.sees("Number on the custody seal")
            screen.types(CTRL_C)
            assert "3 scanned, 1 answered" in screen.ends()[1]
        with Terminal(town.person("clerk"), "seal") as screen:
            screen.sees("Go on with it?")
            screen.types("y\n")
            screen.sees("scan: ")
            screen.types("3\n")
            screen.sees("Number on the custody seal")
            screen.types(CTRL_C)
            screen.ends()


@pytest.mark.slow
def test_one_that_was_forgotten_is_given_with_the_others(collected: tuple[Town, list[str]]) -> None:
    """One cassette stays in the bag of the inspector, because the count was asked back without its scan."""
    town, samples = collected
    with served(town), Terminal(town.person("inspector"), "give", "--to", FIRM) as screen:
        for each in (*samples[:2], "3"):
            screen.sees("scan: ")
            screen.types(f"{each}\n")
        screen.sees("Purpose: ")
        screen.types("2\n")
        screen.sees("Count again, or scan the one that is missing")
        screen.types(f"{samples[2]}\n")
        screen.sees("Sign: relinquished?")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    said = last(town)
    assert (said["samples"], said["count"]) == (samples[:3], 3)
