"""What waits, and where a lot went, at the keyboard."""

from __future__ import annotations

from town import ENVELOPE, SEAL, Town


def test_a_scheduler_is_told_by_the_exit_code(visited: tuple[Town, list[str]]) -> None:
    """If this fails, the office's morning job is silent about the envelope behind the printer."""
    town, samples = visited
    clerk = town.person("clerk")
    assert "Nothing waits." in clerk.run("chase")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    assert "not shipped" in clerk.run("chase")
    assert "Nothing is overdue." in clerk.run("chase", "--overdue")
    town.clock.advance(hours=25)
    said = clerk.run("chase", code=1)
    assert "OVERDUE" in said
    told = clerk.answer("chase", "--overdue", code=1)
    assert [each["about"] for each in told["items"]] == [ENVELOPE]


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
