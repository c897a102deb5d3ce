"""When a run began or a surface was sampled, where the clock of its device was ahead: by the worst bound, so
that no sample passes for younger than it is.

Nothing is re-dated: what was said stands, CU-08 and CU-09 say that it cannot be, and whoever reckons with a
bound says so. Minutes between two acts of one device keep: its clock was wrong by the same amount.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Final

from bailee.domain.custody import Form, Sample
from bailee.domain.moments import Moment
from bailee.rules.wording import clock

BELIEVABLE: Final = timedelta(minutes=5)
"""How far a time stated may lie outside what is possible before it is flagged (common
practice, no source)."""


def begun(form: Form, sample: Sample) -> Moment:
    """The earliest start of a live sample's run that the ledger allows, where it was signed after it was
    recorded; as said, otherwise.

    It was signed no earlier than the newest entry that its device had seen was recorded; on a device that had
    seen nothing of the form, the clock was ahead by the difference at least. A clock that was behind makes a
    sample older than it is, and is left so. What its collector corrected counts as corrected.
    """
    claim, started = sample.claims[0].entry, sample.taken_at
    if claim.at.instant - claim.rec <= BELIEVABLE:
        return started
    seen = next((entry.rec for entry in form.entries if entry.leaf == claim.after), claim.rec)
    corrected = any(
        made.target
        and made.target.digest == claim.digest
        and made.body.field == ("at" if sample.surface else "started")
        and not made.why_not
        for made in form.corrections
    )
    return started if corrected else started.moved(seen - claim.at.instant)


def told(form: Form, sample: Sample) -> str:
    """What to say beside a bound; empty where the time is as it was said."""
    said = sample.taken_at
    if begun(form, sample) == said:
        return ""
    return (
        f" The time entered is {clock(said)}, which conflicts with the ledger; the earliest possible time is"
        " used."
    )
