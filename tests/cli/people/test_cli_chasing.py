"""What waits, and where a lot went, at the keyboard."""

from __future__ import annotations

from town import ENVELOPE, INTACT, SEAL, Town, dock


def test_a_scheduler_is_told_by_the_exit_code(visited: tuple[Town, list[str]]) -> None:
    """If this fails, the office's morning job is silent about the envelope behind the printer."""
    town, samples = visited
    clerk = town.person("clerk")
    assert "Nothing waits." in clerk.run("chase")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    assert "no shipment on record" in clerk.run("chase")
    assert "Nothing is overdue." in clerk.run("chase", "--overdue")
    town.clock.advance(hours=25)
    said = clerk.run("chase", code=1)
    assert "OVERDUE" in said
    told = clerk.answer("chase", "--overdue", code=1)
    assert [each["about"] for each in told["items"]] == [ENVELOPE]


def test_it_is_due_on_the_clocks_of_the_visit(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, one screen tells three kinds of clocks, and somebody calls the laboratory an hour before
    it opens.
    """
    # 09:30 in New York is 14:30 UTC; Chicago opens the envelope at 10:30 its own time, 11:30 in New York
    # (zoneinfo, standard time).
    town, _ = shipped
    town.clock.advance(hours=-2)
    said = " ".join(town.person("clerk").run("chase", code=None).split())
    assert "due 2026-12-02 11:30 America/New_York" in said
    assert "no receipt on record" in said


def test_what_is_on_hold_and_what_is_only_a_day_are_told_alike(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, what waits at the laboratory is told with an offset that nobody reckons with in the
    head.
    """
    town, samples = shipped
    dock(town, *samples[:3], *INTACT, "--counted", "3")
    town.person("dock").run("put-on-hold", samples[0], "--reason", "identity")
    said = town.person("dock").run("chase", code=None)
    # The dock closes at 17:00 in Chicago on the next working day, which is 18:00 in New York (zoneinfo,
    # standard time).
    assert "due 2026-12-03 18:00 America/New_York\n" in said
    keeper = town.person("keeper")
    keeper.run(
        "lot",
        "receive",
        "--maker-lot",
        "9",
        "--cassette",
        "slit",
        "--expiry",
        "2026-12-05",
        "--count",
        "2",
        "--nominal-flow",
        "15",
    )
    assert "due 2026-12-05\n" in town.person("keeper").run("chase", code=None)


def test_a_recalled_lot_is_followed_to_everybody(visited: tuple[Town, list[str]]) -> None:
    """If this fails, the media keeper reads three hundred forms to find out whom to call."""
    town, samples = visited
    keeper = town.person("keeper")
    (lot,) = (each["lot"] for each in keeper.answer("lot", "show")["lots"])
    keeper.run("lot", "recall", lot, "--reason", "maker")
    said = keeper.run("lot", "uses", lot)
    assert "RECALLED: 3 samples on 1 form" in said
    assert "Laboratories: quill-lab" in said
    assert "Envelopes: none" in said
    assert {each["sample"] for each in keeper.answer("lot", "uses", lot)["uses"]} == set(samples[:3])
