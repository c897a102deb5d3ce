"""What was read of a pump on a visit before its next run: at a check of it that day, or before the cassette
that went before. It is not asked for again, and the screen before the signature says where it is from.

Which checks speak for a run: `domain.day_checks`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from typing import Any

from bailee.domain.acts.form import Collected, PumpChecked
from bailee.domain.acts.table import name_of
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.errors import BaileeError
from bailee.frozen import frozen
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing import earlier_runs


@frozen
class Reading:
    """The flow of a pump as read, L/min (none where it was corrected for temperature and pressure), when that
    was and where it is from; `is_check`: for all runs of a day.
    """

    pump: str
    meter: str | None
    flow: str | None
    at: Moment
    told: str
    is_check: bool = False


def of_visit(session: Session, form: str, seen: Mapping[str, Any] | None) -> list[Reading]:
    """What was read on a visit, the oldest first: what this device signed, and where the ledger was `seen`
    the checks that others of the organization recorded there.
    """
    zone = cache.zone_of(session, form) or "UTC"
    checks = [each for each in earlier_runs.signed(session, name_of(PumpChecked)) if each["form"] == form]
    if seen:
        checks += [each for each in _recorded(session, form) if each not in checks]
    found = [_of_check(each, zone) for each in checks]
    for each in earlier_runs.signed(session, name_of(Collected)):
        if each["form"] == form and each.get("pump") and each.get("flow_before"):
            at = Moment.parse(each["started"])
            told = f"as before the run of {grouped(each['sample'])}"
            found.append(Reading(each["pump"], each.get("meter"), each["flow_before"], at, told))
    return sorted(found, key=lambda each: each.at.instant)


def before(readings: Sequence[Reading], start: Moment, zone: str | None, pump: str) -> Reading | None:
    """The newest that may stand for the flow of a pump before a run that starts then."""
    for each in reversed(readings):
        if each.flow and each.pump == pump and (not each.is_check or _speaks_for(each, start, zone or "UTC")):
            return each
    return None


def _speaks_for(check: Reading, start: Moment, zone: str) -> bool:
    """As the rule book has it: read before the run, on the same day at the site."""
    days = {Moment.shown_in(each.instant, zone).local_date for each in (check.at, start)}
    return check.at.instant <= start.instant and len(days) == 1


def _recorded(session: Session, form: str) -> Iterator[Mapping[str, Any]]:
    with suppress(BaileeError):  # whoever may not see them, or has no network now, is asked
        for each in session.service.get(f"/forms/{form}/facts")["statements"]:
            if each["act"] == name_of(PumpChecked) and each["organization"] == session.profile.org:
                yield {"form": form, **each["data"]}


def _of_check(said: Mapping[str, Any], zone: str) -> Reading:
    at = Moment.parse(said["at"])
    how = "" if said["through_cassette"] else ", without a cassette"
    told = f"check of the pump at {Moment.shown_in(at.instant, zone).local:%H:%M}{how}"
    flow = None if said.get("flow_corrected") else said["flow"]
    return Reading(said["pump"], said["meter"], flow, at, told, is_check=True)
