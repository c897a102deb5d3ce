"""An entry as a paper shows it is compared with the file: what was printed, nobody takes out of the log."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bailee.errors import Malformed
from bailee.ledger.fingerprint import fingerprint, read_hash
from bailee.verify import printed
from bailee.verify.report_text import render_text
from bailee.verify.result import BROKEN, INTACT, NOT_YOURS, Report
from bailee.verify.verifier import verify
from log_simulator import AT, LogSimulator, told


@pytest.fixture
def log() -> LogSimulator:
    """A faultless visit."""
    return told("accepted")


def asked(log: LogSimulator, *papers: str) -> Report:
    """What is said of the file where these papers are brought."""
    return verify(log.bundle(), replace(log.trust(), printed=printed.brought(papers)), AT)


def paper(log: LogSimulator, n: int, shown: str = "") -> str:
    """What somebody types from a paper about an entry of the form."""
    return f"{n}={shown or fingerprint(leaf_of(log, n))}"


def leaf_of(log: LogSimulator, n: int) -> str:
    """Hash of the leaf of an entry of the form."""
    chain = f"form/{log.form}"
    return next(each.leaf for each in log.log if (each.entry.chain, each.entry.n) == (chain, n))


def test_an_entry_that_is_here_as_it_was_printed_is_named_in_the_report(
    log: LogSimulator,
) -> None:
    """Whoever repeats the check would not know that a paper was compared, or with which entry."""
    typed = paper(log, 3).lower().replace(" ", "-").replace("0", "o").replace("1", "l")
    report = asked(log, typed, paper(log, 5))
    assert (report.state, report.faults) == (INTACT, ())
    leaf = leaf_of(log, 3)
    assert report.checked_with.printed["3"] == leaf
    assert f"entry 3 on paper, brought by you: {leaf}" in render_text(report)


def test_another_history_of_the_printed_entry_breaks_the_file(log: LogSimulator) -> None:
    """An operator who rebuilt the whole log would have every proof, and the paper would lie in a drawer."""
    report = asked(log, paper(log, 4, fingerprint("A" * 43)))
    assert report.state == BROKEN
    (fault,) = report.faults
    assert (fault.step, fault.code, fault.place.n) == (8, "printed-entry", 4)
    assert "there are two histories" in fault.sentence


@pytest.mark.parametrize("slip", ["another number", "two characters"])
def test_a_hash_that_was_mistyped_accuses_nobody(log: LogSimulator, slip: str) -> None:
    """One wrong letter of fifty-two would read as a forged log."""
    right = paper(log, 4)
    shown = right.partition("=")[2]
    typed = (
        f"5={shown}" if slip == "another number" else f"4={'00' if shown[:2] != '00' else '11'}{shown[2:]}"
    )
    report = asked(log, typed)
    assert (report.state, report.faults) == (NOT_YOURS, ())
    (said,) = report.other_keys
    assert said.code == "printed-entry"
    assert (
        "is that of entry 4" if slip == "another number" else "compare it with the paper"
    ) in said.sentence


@pytest.mark.parametrize(
    "text", ["", "4", "0=" + "A" * 52, "4=" + "A" * 51, "4=" + "U" * 52, "4=" + "Z" * 52]
)
def test_what_is_no_printed_hash_is_asked_for_again(text: str) -> None:
    """A line that was cut short would be compared with nothing, and nothing would be said."""
    with pytest.raises(Malformed) as caught:
        printed.brought([text])
    assert caught.value.code == "bad-printed"


def test_two_hashes_for_one_number_are_two_papers() -> None:
    """The second would take the place of the first, and one of two copies would not be compared."""
    with pytest.raises(Malformed, match="Two hashes"):
        printed.brought([f"4={fingerprint('A' * 43)}", f"4={fingerprint('E' * 43)}"])
    assert read_hash(fingerprint("E" * 43)) == "E" * 43
