"""What a cassette takes over from those before it, so that it is not asked for again: the equipment from the
last one of the visit, what is true of a room from that room, the flow from a reading of the pump. Of the
kit and of an earlier visit the equipment is offered alone: another pump is taken along more often than not.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from bailee.asking import cassette_steps
from bailee.domain.acts.form import Collected
from bailee.domain.acts.table import name_of
from bailee.domain.moments import Moment
from bailee.frozen import frozen
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people.visit import packing_list, pump_readings
from bailee_cli.people.visit.pump_readings import Reading
from bailee_cli.signing import earlier_runs

_EQUIPMENT: Final = ("pump", "meter", "height_m")
_OF_A_ROOM: Final = ("area", "space_reason")
_SEVERAL: Final = "other"
"""A room that has no name of its own: only its point tells which."""


@frozen
class CarriedOver:
    """`runs` of the visit, the oldest first, `readings` of its pumps, and what is `offered` where neither
    tells.

    What this device signed counts: it is what the person remembers to have said.
    """

    zone: str | None
    runs: Sequence[Mapping[str, Any]]
    readings: Sequence[Reading]
    offered: Mapping[str, Any]

    def kept(self, answers: Mapping[str, Any], start: Moment) -> dict[str, Any]:
        """What stays for a cassette of which this was answered."""
        newest = self.runs[-1] if self.runs else {}
        kept = {name: newest.get(name) for name in _EQUIPMENT}
        for each in self.readings[-1:]:
            kept |= {"pump": each.pump, "meter": each.meter or kept["meter"]}
        read = self.reading(answers.get("pump", ""), start)
        return kept | {"flow_before": read.flow if read else None} | self._of_room(answers)

    def reading(self, pump: str, start: Moment) -> Reading | None:
        """The reading that stands for the flow before a run of this pump."""
        return pump_readings.before(self.readings, start, self.zone, pump)

    def _of_room(self, answers: Mapping[str, Any]) -> dict[str, Any]:
        place = cassette_steps.placed(answers["where"]) if answers.get("where") else {}
        place |= {"point": answers["point"]} if answers.get("point") else {}
        for each in reversed(self.runs):
            is_there = each.get("room") == place.get("room") and each["kind"] == place.get("kind")
            if is_there and (each.get("room") != _SEVERAL or each.get("point") == place.get("point")):
                return {name: each.get(name) for name in _OF_A_ROOM}
        return {}


def on_visit(session: Session, form: str, seen: Mapping[str, Any] | None, zone: str | None) -> CarriedOver:
    """What may be taken over on this visit."""
    signed = earlier_runs.signed(session, name_of(Collected))
    runs = [each for each in signed if each["kind"] != "blank"]
    before: Mapping[str, Any] = next((each for each in reversed(runs) if each["form"] != form), {})
    kit = session.outbox.recall(packing_list.CARRIED) or {}
    packed = kit if kit.get("visit") == cache.visit_of(session, form) else {}
    return CarriedOver(
        zone,
        [each for each in runs if each["form"] == form],
        pump_readings.of_visit(session, form, seen),
        {name: packed.get(name) or before.get(name) for name in _EQUIPMENT},
    )
