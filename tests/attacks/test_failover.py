"""A failover takes the hosts to an older copy of the database, by accident or because somebody wants entries
gone.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from promises import promised

from bailee.errors import Unavailable
from hosts.many_hosts import Hosts
from own_postgres import OwnPostgres

pytestmark = pytest.mark.slow


def test_failover_to_an_older_copy_of_the_database(tmp_path: Path, postgres: OwnPostgres) -> None:
    """Whoever has the database servers.

    Seen by each host alone, by its own high-water file: it takes nothing further and shows what it showed.
    Hand-overs that were acknowledged would be gone otherwise, and another history signed in their place
    (common practice, no source).
    """
    promised("failover puts an older copy", "every host freezes")
    hosts = Hosts(tmp_path, postgres, "attacked_failover")
    try:
        first = hosts.first
        form = first.open_form()
        first.ledger.sequencer.integrate()
        put_back = hosts.keep_database()
        second = hosts.another()
        acknowledged = first.open_form()
        first.ledger.sequencer.integrate()
        with pytest.raises(Unavailable):
            second.sequencer.integrate()  # it only follows
        shown = second.publisher.shown()

        put_back()
        for each in (second, first.ledger):
            with pytest.raises(Unavailable) as frozen:
                each.sequencer.integrate()
            assert frozen.value.code == "log-frozen"
            assert each.publisher.shown() == shown
        assert first.get("quality", f"/forms/{form}").status_code == 200
        assert first.get("quality", f"/forms/{acknowledged}").status_code == 404
        held = {"secured": "locked", "where": "office", "since": "2026-12-01T09:30:00-05:00"}
        told = first.send(first.people["second"].sign(f"form/{form}", "held", held, after=None))
        assert (told.status_code, told.get_json()["code"]) == (503, "log-frozen")
    finally:
        hosts.close()
