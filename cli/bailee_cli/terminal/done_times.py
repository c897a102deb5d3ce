"""When something was done: never in the future. A time that is still to come is asked again at a terminal,
alone, so that it costs none of the other answers.
"""

from __future__ import annotations

from datetime import datetime

from bailee.asking.run_slips import AHEAD
from bailee.domain.moments import Moment
from bailee.errors import Malformed
from bailee_cli.device.session import Session
from bailee_cli.terminal import show
from bailee_cli.terminal.options import at_a_terminal, moment, until_read


def done(session: Session, act: str, text: str | None, zone: str | None) -> Moment:
    """When an act was done, as `moment` reads it. Elsewhere than at a terminal a time to come is refused when
    the whole act is looked at.
    """
    if text is None or session.json or not at_a_terminal():
        return moment(session, text, zone)

    def read(typed: str) -> Moment:
        found = moment(session, typed, zone)
        refuse_future(session.now, act, found)
        return found

    found: Moment = until_read(read, text, asks=True)
    session.moments[text, zone] = found
    return found


def refuse_future(now: datetime, act: str, done: Moment) -> None:
    """Nobody can say that a thing was done which is still to come.

    Clocks of two people may differ a little. Raises `Malformed` ("future").
    """
    if done.instant - now > AHEAD:
        raise Malformed(
            f"{show.words(act).capitalize()} at {done.clock} is in the future by the clock of this"
            f" device, {Moment(now, done.offset_minutes).clock}. Nothing was signed: enter the time it was"
            " done, or set the clock.",
            code="future",
            at=done.text(),
        )
