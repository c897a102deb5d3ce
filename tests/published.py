r"""Figures that others published: the files of `tests/vectors`, one per source, which each names with its
revision and license.

Lines of `#` say so and what the fields of each kind of row are; a line `$7 text` names a text that comes more
than once, and `$7` in a row stands for it. Rows are a kind and its fields, parted by tabs; `\n` is a new
line.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

_FOLDER = Path(__file__).parent / "vectors"


def rows(source: str, kind: str | None = None) -> list[list[str]]:
    """The fields of every row of one kind; of every row, kind first, when none is named. Never nothing."""
    found = [row if kind is None else row[1:] for row in _read(source) if kind in (None, row[0])]
    assert found, f"{source} has no {kind}"
    return found


@cache
def _read(source: str) -> tuple[list[str], ...]:
    texts: dict[str, str] = {}
    read = []
    for line in (_FOLDER / f"{source}.txt").read_text("utf-8").split("\n"):
        if not line or line.startswith("#"):
            continue
        plain = line.replace("\\n", "\n")
        if named := re.match(r"(\$\d+) ", plain):
            texts[named[1]] = plain[named.end() :]
        else:
            read.append([re.sub(r"\$\d+", lambda at: texts[at[0]], field) for field in plain.split("\t")])
    return tuple(read)
