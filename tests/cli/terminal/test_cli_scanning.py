"""What ends the scans at a terminal, line by line.

That a scanner may end with two Enters is common practice, no source; what follows from it is our own promise
(guides/typing.md, "Labels and scanners").
"""

from __future__ import annotations

import pytest

from bailee.asking.hand_over_steps import COUNTED, count_by_hand
from bailee.errors import Malformed
from bailee_cli.terminal.scanning import ScansEnd

LABEL = "S4K7M9Q2XF4P"


def test_the_count_ends_the_scans_and_an_empty_line_only_asks_for_it() -> None:
    """A scanner's second Enter closes the envelope over one cassette of four, and nothing says so."""
    end = ScansEnd(COUNTED)
    assert end.comes("", 1) is False
    assert end.question == "Samples counted by hand: "
    assert end.comes(LABEL, 1) is None
    with pytest.raises(Malformed):
        end.comes("", 1)
    assert end.comes("4", 4) is True
    assert end.counted == 4


def test_a_count_that_may_be_left_out_takes_two_empty_lines() -> None:
    """Who does not count could never end, or ends by one Enter too many."""
    end = ScansEnd(count_by_hand(""))
    assert (end.comes("", 2), end.comes("", 2)) == (False, True)
    assert (end.is_counted, end.counted) == (True, None)


def test_what_was_counted_before_can_be_counted_again() -> None:
    """Who goes on with an envelope and types the count would be told that it is no sample number."""
    end = ScansEnd(COUNTED, 3)
    assert (end.comes("", 2), end.question) == (False, "Samples counted by hand: ")
    assert ScansEnd(COUNTED, 3).comes("", 3) is True
    end = ScansEnd(COUNTED, 3)
    assert (end.comes("4", 4), end.counted) == (True, 4)


def test_with_nothing_scanned_an_empty_line_ends() -> None:
    """Who called the wrong command is asked for a count of nothing."""
    assert ScansEnd(COUNTED).comes("", 0) is True


@pytest.mark.parametrize(
    ("expected", "scanned", "asked"),
    [
        (None, 1, "End of the scans? 1 scanned [y/n]: "),
        (None, 2, ""),
        (4, 2, "End of the scans? 2 scanned of 4 [y/n]: "),
        (4, 4, ""),
        (1, 1, ""),
    ],
)
def test_an_empty_line_after_too_few_is_asked_back(expected: int | None, scanned: int, asked: str) -> None:
    """Where the count was typed before the scans, a second Enter would still end them."""
    end = ScansEnd(expected=expected)
    assert end.comes("", scanned) is (not asked)
    assert end.question == asked
    if asked:
        assert end.comes(LABEL, scanned) is None
        assert end.comes("y", scanned) is True
        assert end.comes("n", scanned) is False
        assert end.question == ""
