"""A time that cannot be: earlier than what must come before it, as far as that is known there and then.

The rules judge all that is on record (CU-07, RC-09); here it is asked back before it is signed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from bailee.asking.run_slips import AHEAD
from bailee.asking.slip import Slip
from bailee.domain.moments import Moment
from bailee.frozen import frozen
from bailee.presentation import words


@frozen
class MustPrecede:
    """What must come before an act, in words (`the run of S… ended`), and when it was."""

    what: str
    at: Moment


def too_early(act: str, at: Moment, known: Iterable[MustPrecede]) -> Iterator[Slip]:
    """An act said to be done before the last of what must come before it (`known`, in its order).

    Two clocks may differ a little.
    """
    last = max(reversed([*known]), key=lambda each: each.at.instant, default=None)
    if last and last.at.instant - at.instant > AHEAD:
        before = Moment.of(last.at.epoch_seconds, at.text()[-6:])
        yield Slip(
            "earlier-than-before",
            "at",
            at.text(),
            f"{words.plain(act).capitalize()} at {at.clock} is earlier than what must come before it:"
            f" {last.what} at {before.clock}.",
            "Check the day and the time.",
        )
