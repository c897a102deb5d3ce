"""When a thing was done, in the words of the person who says so."""

from __future__ import annotations

from datetime import timedelta

from bailee.domain.acts.form import (
    Collected,
    Decision,
    Disposed,
    Forwarded,
    Held,
    Received,
    Relinquished,
    Sealed,
    Shipped,
    Unsealed,
)
from bailee.domain.facts import Facts
from bailee.domain.moments import Moment


def done_at(body: Facts) -> Moment | None:
    """When the act was done (a run: when it ended); None for acts that are only said."""
    match body:
        case Collected():
            return body.started.moved(timedelta(seconds=body.run_s))
        case Held():
            return body.since
        case Shipped():
            return body.handed_over
        case Relinquished() | Received() | Sealed() | Unsealed() | Decision() | Disposed() | Forwarded():
            return body.at
        case _:
            return None
