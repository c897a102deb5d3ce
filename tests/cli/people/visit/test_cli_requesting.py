"""What is requested of the laboratory: typed, asked for, and told again everywhere."""

from __future__ import annotations

from terminal import Terminal, served
from town import INDOOR, OPEN, OUTDOOR, Town, collect, flat, last, told_everywhere


def test_what_is_requested_stands_on_every_paper(settled: Town) -> None:
    """The laboratory reads the order of the opening, and what was agreed since stands in one place only."""
    _, (first, second) = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, first, INDOOR)
    collect(settled, second, OUTDOOR)
    form = inspector.answer("show")["forms"][0]["form"]
    order = ("request", "--due", "2026-12-07", "--purchase", "PO-7", "--bill-to", "Office B")
    assert "Recorded: requested" in inspector.run(*order)
    assert "Recorded: requested" in inspector.run(
        "request", first, "--priority", "rush", "--analysis", "molds"
    )
    told = inspector.answer("show", form)
    assert [(each["samples"], each["due"], each["priority"]) for each in told["requests"]] == [
        ([first], "2026-12-07", "rush"), ([second], "2026-12-07", None),
    ]  # fmt: skip
    assert [each["requested"]["analysis"] for each in told["samples"]] == ["molds", "direct-exam"]
    told = told_everywhere(settled, form)
    for where, words in told.items():
        assert "molds, turnaround" in words, where
        assert "due 2026-12-07, priority rush, purchase order PO-7" in words, where
    assert "Bill to: Office B" in told["record"]


def test_a_request_is_asked_for_and_a_day_that_is_over_is_asked_back(settled: Town) -> None:
    """Who types a date of last year would be chased for it tomorrow."""
    _, (sample,) = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, sample, INDOOR)
    assert "would be due on 2025-12-07" in flat(inspector.run("request", "--due", "2025-12-07", code=2))
    with served(settled), Terminal(inspector, "request") as screen:
        for question, answer in (
            ("Analysis wanted", "spore count"),
            ("Turnaround wanted", ""),
            ("Last day for the result", "2025-12-07"),
            ("Priority", "2"),
            ("purchase order", "PO-7"),
            ("Cost center", ""),
        ):
            screen.sees(question)
            screen.sees(": ")
            screen.types(f"{answer}\n")
        screen.sees("would be due on 2025-12-07")
        screen.types("2026-12-07\n")
        screen.sees("Sign: requested?")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    said = last(settled)
    assert said == {"analysis": "spore count", "due": "2026-12-07", "priority": "rush", "purchase": "PO-7"}
