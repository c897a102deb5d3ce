"""What usually comes next after an act: words, and the act that does it. No rule: what must come says the
rule book.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from bailee.domain.acts.form import (
    Collected,
    Held,
    Opened,
    Received,
    Relinquished,
    Sealed,
    Shipped,
    Unsealed,
    Voided,
)
from bailee.domain.acts.lot import Issued, LotReceived
from bailee.domain.acts.organization import Enrolled, Founded, Recovered, Revoked, Rotated
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.acts.table import ACCEPTED, ON_HOLD, REJECTED, name_of

_AT_THE_DOCK: Final = "received at the dock"
_NOT_AS_IT_SHOULD: Final = "received at the dock, and not as it should be"
_SENDING: Final = "send_waiting"
_LOOKING: Final = "look_up"
_NOTHING_INSIDE: Final = "nothing received at the dock"
_NEXT: Final[Mapping[str, tuple[str, str]]] = {
    name_of(Opened): ("Collect the cassettes, an outdoor control among them.", name_of(Collected)),
    name_of(Collected): ("The next cassette; then enter how they are secured.", name_of(Held)),
    name_of(SurfaceCollected): ("The next sample; then enter how they are secured.", name_of(Held)),
    name_of(Voided): ("Collect another one, if it is wanted.", name_of(Collected)),
    name_of(Held): ("Relinquish them to the person who receives them.", name_of(Relinquished)),
    name_of(Relinquished): ("The person who receives them counts them and signs.", name_of(Received)),
    name_of(Received): ("Enter how they are secured, or seal them into an envelope.", name_of(Sealed)),
    _AT_THE_DOCK: ("Decide about them.", ACCEPTED),
    _NOT_AS_IT_SHOULD: (
        "Put on hold what is not as it should be, and call the sampling firm; accept what is in order.",
        ON_HOLD,
    ),
    _NOTHING_INSIDE: (
        "Search the packing and call the sampling firm. What never came is rejected, by its own number.",
        REJECTED,
    ),
    name_of(Sealed): ("Ship the envelope.", name_of(Shipped)),
    name_of(Shipped): ("The laboratory receives it at the dock. Look it up to see whether it did.", _LOOKING),
    name_of(Unsealed): ("Seal it again, with a new seal.", name_of(Sealed)),
    name_of(Founded): ("People make their keys and ask; enroll them.", name_of(Enrolled)),
    name_of(Revoked): ("Enroll the key of their new device, if they stay.", name_of(Enrolled)),
    name_of(Rotated): (
        "The new device signs from now on, and this one no more. What waits here still counts: send it.",
        _SENDING,
    ),
    name_of(Recovered): (
        "The new root key enrolls people from now on. Put this one back into its safe place.",
        name_of(Enrolled),
    ),
    name_of(LotReceived): ("Issue numbers for its cassettes.", name_of(Issued)),
}


def after(act: str, data: Mapping[str, Any], *, differs: bool = False) -> tuple[str, dict[str, Any]] | None:
    """Words and the act that usually follows, with the numbers that are known; None when nothing has to.

    `differs`: something was found at the dock that is not as it should be.
    """
    if data.get("dock"):
        arrived = _NOT_AS_IT_SHOULD if differs else _AT_THE_DOCK
        act = arrived if data.get("items") else _NOTHING_INSIDE
    found = _NEXT.get(act)
    if found is None:
        return None
    words, following = found
    if act == _NOTHING_INSIDE:
        return words, {"act": following}
    known = {"envelope": (data.get("dock") or data).get("envelope")}
    return words, {"act": following, **{name: value for name, value in known.items() if value}}
