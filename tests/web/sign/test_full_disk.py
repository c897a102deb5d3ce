"""A disk that is really full, and the browser started again on it.

Chromium takes a database that it cannot open on a full disk for broken and deletes it: then the key is gone,
and what was signed must be sent from beside the database. No standard; the cure is the project's own.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from killing import SIGNING, fill, killed, small_disk, started
from phones import firm_at

from bailee.store import log

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.slow


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """A small one; left out where nobody may mount it."""
    with small_disk(tmp_path / "small") as found:
        if found is None:
            pytest.skip("no disk of its own (mounting one needs root)")
        yield found


def test_a_full_disk_loses_nothing_over_a_restart(browser: Browser, disk: Path, tmp_path: Path) -> None:
    """Six things signed in a basement, the memory full of pictures, the phone started again twice."""
    profile, chromium = disk / "profile", browser.browser_type
    with firm_at(tmp_path / "service") as firm:
        phone = started(firm, chromium, profile)
        phone.join("inspector")
        phone.page.get_by_text("Works without a network").wait_for()
        form = firm.field.open_form()
        phone.context.set_offline(True)
        phone.page.evaluate(SIGNING, [form, 1, 6])
        phone.page.wait_for_event("console", lambda said: said.text == "kept 6 as 6")
        fill(disk)
        phone.page.goto(f"{firm.url}/sign/#begin")
        phone.heading("The memory of this phone is full")
        killed(profile)
        again = started(firm, chromium, profile)
        again.page.goto(f"{firm.url}/sign/")
        again.page.get_by_role("heading", level=1).filter(has_text="full").or_(
            again.page.get_by_role("heading", level=1).filter(has_text="lost its key")
        ).wait_for()
        killed(profile)
        (disk / "fill").unlink()
        again = started(firm, chromium, profile)
        again.page.goto(f"{firm.url}/sign/")
        lost = again.page.get_by_role("heading", level=1).filter(has_text="lost its key")
        again.page.get_by_role("heading", level=1).filter(has_text="Ines Marlow").or_(lost).wait_for()
        if lost.count():
            again.tap("Send what is kept")
            again.page.get_by_text("6 sent.").wait_for()
        else:
            again.sent()
            assert [row["seq"] for row in again.rows()] == [1, 2, 3, 4, 5, 6]
        with firm.field.ledger.database.reading() as connection:
            here = log.counters(connection, phone.kid)
        again.context.close()
    assert (here.highest, here.missing) == (6, 0)
