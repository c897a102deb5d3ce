"""The facts of one cassette as its options and answers say them: how they are read, and what they become."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any, Final

from bailee.asking import question, written
from bailee.asking.question import MINUTES_TO
from bailee.domain import numbers, statements
from bailee.domain.acts.form import Collected
from bailee.domain.acts.table import name_of
from bailee.domain.moments import Moment
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people.visit import observations
from bailee_cli.terminal.done_times import done
from bailee_cli.terminal.options import moment, present


def is_told(sample: str | None, said: Mapping[str, Any]) -> bool:
    """Whether what no cassette can do without was typed: then nothing is asked, and it stands as typed."""
    ran = said["kind"] == "blank" or (said["run_s"] is not None and said["flow_after"] is not None)
    place = said["kind"] == "blank" or said["room"] or said["point"]
    return bool(sample and said["kind"] and said["covers_on"] is not None and ran and place)


def require(session: Session, form: str, said: Mapping[str, Any]) -> None:
    """Refuse an option that the act would refuse, before anything is asked. Raises `Malformed`, or
    `BadStatement` for two that contradict each other.
    """
    for member, value in said.items():
        if value not in (None, ()) and member not in _READ_LATER:
            listed = list(value) if isinstance(value, tuple) else value
            question.require_fact(name_of(Collected), member, str(value), listed)
    sample, lot = (numbers.issue(each, secrets.choice) for each in ("sample", "lot"))
    facts = collected(sample, lot, started(session, form, said), {**said, "sky": None})
    facts |= observations.cassette(session, said["zone"] or cache.zone_of(session, form), said)
    draft = {"kind": "indoor", "covers_on": True} | facts | {"run_s": facts.get("run_s", 0)}
    draft.pop("weather", None)  # the rest of it is asked for
    statements.parse(f"form/{form}", name_of(Collected), written.as_signed(draft))


_READ_LATER: Final = {"started", "stopped", "photo", "zone"}
"""Times of the site's clocks and a file: read with the draft."""


READERS: Final[Mapping[str, Callable[[str], Any]]] = {
    "run_s": partial(written.run, bare_minutes_to=MINUTES_TO),
    "planned_s": partial(written.run, bare_minutes_to=MINUTES_TO),
    "flow_before": written.flow,
    "flow_after": written.flow,
    "temperature_c": written.degrees_celsius,
    "pressure_hpa": written.hectopascals,
    "height_m": written.length,
    "point": written.point,
    "started": str,
    "pump": str.strip,
    "meter": str.strip,
    "serial": str.strip,
}
"""What can be typed again, and how it is read."""


def again(said: dict[str, Any], member: str, text: str) -> None:
    """Put what is typed in the place of a slip. Raises `Malformed` for what cannot be."""
    value = READERS[member](text)
    if member != "started":  # a time of the site's clocks, read with the rest
        question.require_fact(name_of(Collected), member, text, value)
    said[member] = value
    if member == "started":
        said["zone"] = None


def started(session: Session, form: str, said: Mapping[str, Any]) -> Moment:
    """When the run began: as typed, or so long before it ended, which is now where nobody said when."""
    zone = said["zone"] or cache.zone_of(session, form)
    if said["started"]:
        return done(session, name_of(Collected), said["started"], zone)
    now = moment(session, None, zone)
    ended = int(said["ended"].timestamp()) if said.get("ended") else now.epoch_seconds
    return Moment.of(ended - (said["run_s"] or 0), now.text()[-6:])


def collected(sample: str, lot: str, started: Moment, said: Mapping[str, Any]) -> dict[str, Any]:
    """The statement, but for what is observed besides."""
    weather = present({name: said[name] for name in ("sky", "wind", "snow_cover", "mowing")})
    copied = (
        "kind",
        "run_s",
        "planned_s",
        "covers_on",
        "serial",
        "duplicate_of",
        "replaces",
        "replaces_form",
        "point",
        "room",
        "space",
        "space_reason",
        "area",
        "height_m",
        "distance_m",
        "pump",
        "meter",
        "flow_before",
        "flow_after",
    )
    data = {
        "sample": sample,
        "lot": lot,
        "started": started.text(),
        "entered": "typed" if said["typed"] else "scan",
        "near": list(said["near"]) or None,
        "weather": weather or None,
        **{name: said[name] for name in copied},
    }
    return present(data)
