"""A slip of the finger in what is about to be signed, and what is known of the visit: pure data.

A slip is no finding: the rules judge what is on record, and a slip is never meant to get there. Whoever asks
(a terminal, a phone) shows the sentence, and takes the value again or the word that it is so.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from bailee.frozen import frozen


@frozen
class Slip:
    """One slip: its code (stable), the member it is about, what was said, the sentence that says why it
    cannot well be meant, what to do. `meant` is what it may have been, as one types it; empty when unknown.
    `asks` is how it is asked back, where the usual question would not say what a yes means. `also` are other
    members that may be the wrong one instead.
    """

    code: str
    field: str
    said: str
    sentence: str
    remedy: str
    meant: str = ""
    asks: str = ""
    also: tuple[str, ...] = ()

    def as_data(self) -> dict[str, str]:
        """For programs."""
        return {
            "code": self.code,
            "field": self.field,
            "said": self.said,
            "sentence": self.sentence,
            "remedy": self.remedy,
            "meant": self.meant,
        }


@frozen
class VisitSoFar:
    """What is known of the visit on which something is said: its day, its zone, and the envelopes that
    samples of it were sealed into or shipped in, with how far they are; when its form was opened.
    """

    day: date | None = None
    zone: str | None = None
    closed: Mapping[str, str] | None = None
    opened: datetime | None = None
