"""README's install and quick start as commands: tests type them anew, and go on from their end."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).resolve().parents[1]
TEXT: Final = (ROOT / "README.md").read_text("utf-8")
ADDRESS: Final = "http://127.0.0.1:8765"
SERVE: Final = re.compile(r"^bin/bailee serve .*$", re.MULTILINE)
_BLOCK: Final = re.compile(r"^```sh\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def commands() -> list[str]:
    """Every command of the install and of the quick start, continued lines as one."""
    first = TEXT.partition("\n## Install\n")[2].partition("\n## I am …\n")[0]
    blocks = _BLOCK.findall(first)
    return [line for block in blocks for line in re.sub(r"\\\n\s*", "", block).splitlines() if line.strip()]
