"""What the rule book will stop is told before the signature, where the answers alone decide it.

The rules themselves: tests/rules. When they are told is our own promise; common practice, no source.
"""

from __future__ import annotations

import pytest
from test_cli_asked_back import types

from terminal import Terminal, served
from town import INDOOR, OPEN, Town, flat, last

ASKED = (
    ("Where was it", "1"),
    ("Area", "1"),
    ("Serial", "K-2"),
    ("Pump number", "P-7"),
    ("Flow meter", "M-3"),
    ("Inlet", "4 ft"),
    ("Flow before", "15.0"),
    ("How long it ran", "5:00"),
)
COVERED = ("Are the covers back on?", "y")
STOPS = "This will stop the envelope (PV-05)"


@pytest.mark.slow
def test_a_drift_that_stops_is_told_before_the_signature_and_can_be_changed(settled: Town) -> None:
    """13.4 typed for 14.3 would be signed, and only then said to stop the envelope."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    with served(settled), Terminal(inspector, "collect", samples[0], columns=80) as screen:
        shown = types(screen, *ASKED, ("Flow after", "13.4"), COVERED, ("Sign: collected?", ""))
        assert STOPS in flat(shown)
        assert "(maker's lot 42-0117)" in shown, "of which box it is"
        line = next(each.split()[0] for each in shown.splitlines() if " flow after" in each)
        assert STOPS not in flat(types(screen, ("Sign: collected?", line), ("Flow after", "14.3")))
        assert STOPS not in flat(types(screen, ("Sign: collected?", "y")))
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(settled)["flow_after"] == "14.3"


@pytest.mark.slow
def test_it_is_asked_back_where_everything_was_typed(settled: Town) -> None:
    """A whole line from the history would be signed with a flow that stops the envelope."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    words = [*INDOOR, "--flow-after", "13.4"]
    for answer in ("no", "yes"):
        with served(settled), Terminal(inspector, "collect", samples[0], *words, columns=80) as screen:
            assert STOPS in flat(types(screen, ("Is it so? [y/n]: ", answer)))
            code, rest = screen.ends()
        assert code == (answer == "no"), rest
    assert last(settled)["flow_after"] == "13.4"


@pytest.mark.slow
def test_without_a_network_nothing_is_asked_and_nothing_invented(settled: Town) -> None:
    """A device in a basement would hold a cassette back for what nobody has judged."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    words = ("collect", samples[0], "--offline")
    with served(settled), Terminal(inspector, *words, columns=80) as screen:
        shown = types(screen, *ASKED, ("Flow after", "13.4"), COVERED, ("Sign: collected?", "y"))
        code, rest = screen.ends()
    assert code == 0, rest
    assert "stop the envelope" not in flat(shown)
    assert last(settled)["flow_after"] == "13.4"


def test_a_script_signs_what_is_true_and_is_told_after_it(settled: Town) -> None:
    """A true bad fact would be refused at the door, and something convenient written instead."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    assert "PV-05" in inspector.run("collect", samples[0], *INDOOR, "--flow-after", "13.4")
