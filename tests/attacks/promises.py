"""The guide's table of attacks: a row that no test of this folder names is a hope, and a test that names no
row is forgotten there.
"""

from __future__ import annotations

import re
from pathlib import Path

HERE = Path(__file__).parent
PAGE = HERE.parents[1] / "service/bailee/guides/attacks.md"


def rows() -> list[str]:
    """The table's rows; their cells are one line each."""
    table = PAGE.read_text("utf-8").partition("\n## ")[0]
    return [line.replace("**", "") for line in table.splitlines() if line.startswith("| ")][1:]


def promised(*words: str) -> None:
    """The table has a row with these words."""
    assert [row for row in rows() if all(word in row for word in words)], words


def untried() -> list[str]:
    """Rows that no test of this folder names."""
    own = "\n".join(path.read_text("utf-8") for path in sorted(HERE.glob("test_*.py")))
    calls = re.findall(r"^    promised\((.*)\)$", own, re.MULTILINE)
    tried = [re.findall(r'"([^"]*)"', call) for call in calls]
    return [row for row in rows() if not any(all(word in row for word in words) for words in tried)]
