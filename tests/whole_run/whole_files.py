"""How a run shares its tests out: each process takes whole files, and whole groups of files that begin with
the same things, so that what is made once in a process is not made in all of them.

The longest come first: groups, files with a browser, files with anything slow in them (`in_order`), and last
what fills the gaps.
"""

from __future__ import annotations

from typing import Any, Final

import pytest
from xdist.scheduler import LoadScopeScheduling

GROUPS: Final = {
    "tests/page/": "bad files",
    "tests/verify/test_cases.py": "bad files",
    "tests/verify/test_outsider.py": "bad files",
    "tests/verify/test_whole_log_audit.py": "bad files",
    "tests/attacks/test_times_of_strangers.py": "bad files",
}
"""By the beginning of their path, files that judge the same hundreds of files, in Python and in one page."""
SERVER: Final = "a PostgreSQL"
"""A server, its migrated template and the stories in it."""


class WholeFiles(LoadScopeScheduling):
    """Groups and files in the order in which they were collected."""

    def __init__(self, config: pytest.Config, log: Any = None) -> None:
        super().__init__(config, log)
        config.option.loadscopereorder = False
        self._server: set[str] = set()

    def schedule(self) -> None:
        """Find out first which files want a server."""
        for found in self.registered_collections.values():
            self._server |= {each.partition("::")[0] for each in found if _wants_server(each)}
        super().schedule()

    def _split_scope(self, nodeid: str) -> str:
        file = nodeid.partition("::")[0]
        group = next((name for start, name in GROUPS.items() if file.startswith(start)), file)
        return SERVER if file in self._server else group


def in_order(items: list[pytest.Item]) -> None:
    """Sort them, whole files at a time."""
    server = {each.path for each in items if _wants_server(each.nodeid)}
    together = {each.path for each in items if each.nodeid.startswith(tuple(GROUPS))}
    browser = {each.path for each in items if "browser" in getattr(each, "fixturenames", ())}
    slow = {each.path for each in items if each.get_closest_marker("slow")}
    ranks = (server | together, browser, slow)
    items.sort(key=lambda each: [each.path not in rank for rank in ranks])


def _wants_server(nodeid: str) -> bool:
    return "postgresql" in nodeid.partition("[")[2]
