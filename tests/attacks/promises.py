"""The guide's table of attacks: a row that no test of this folder names is a hope, and a test that names no
row is forgotten there.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

HERE = Path(__file__).parent
AT_A_DEVICE: Final = {
    "a false time": (
        "cli/device/test_cli_lying_clock.py",
        "test_nobody_in_the_middle_is_given_a_token_for_later",
    ),
    "its memory is an old one": (
        "web/sign/test_hostile_service.py",
        "test_a_number_alone_stops_no_phone",
    ),
    "than is on the screen": (
        "web/sign/test_screen_code.py",
        "test_a_code_signs_for_no_more_than_is_on_the_screen",
    ),
}
"""Rows about what somebody holds in the hand are tried where those who hold it are: words of a row, file
and test.
"""
PAGE = HERE.parents[1] / "service/bailee/guides/attacks.md"


def rows() -> list[str]:
    """The table's rows; their cells are one line each."""
    table = PAGE.read_text("utf-8").partition("\n## ")[0]
    return [line.replace("**", "") for line in table.splitlines() if line.startswith("| ")][1:]


def promised(*words: str) -> None:
    """The table has a row with these words."""
    assert [row for row in rows() if all(word in row for word in words)], words


def is_there(file: str, name: str) -> bool:
    """Whether there is such a test."""
    return f"\ndef {name}(" in (HERE.parent / file).read_text("utf-8")


def untried() -> list[str]:
    """Rows that no test of this folder names, and none at a device."""
    own = "\n".join(path.read_text("utf-8") for path in sorted(HERE.glob("test_*.py")))
    calls = re.findall(r"^    promised\((.*)\)$", own, re.MULTILINE)
    tried = [re.findall(r'"([^"]*)"', call) for call in calls]
    tried += [[words] for words, test in AT_A_DEVICE.items() if is_there(*test)]
    return [row for row in rows() if not any(all(word in row for word in words) for words in tried)]
