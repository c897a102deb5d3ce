"""What signatures cannot show, whoever checks them: printed under every report, however whole the records
are.

`not_checked` of a report says what this file lacks, and a better file may have it. What stands here no file
can have.
"""

from __future__ import annotations

from typing import Final

from bailee.frozen import frozen

TITLE: Final = "What signatures cannot show"


@frozen
class Limit:
    """One thing that stays open: a stable `code`, and one sentence for the reader."""

    code: str
    sentence: str


LIMITS: Final = (
    Limit(
        "deeds",
        "What was done: labels swapped before they were signed for, a false place, a pump that did not run."
        " Signatures show who said what; serials, seals, counts and a second person raise the cost of a lie.",
    ),
    Limit(
        "hands",
        "Whose hand it was: one person can sign with another's unlocked device.",
    ),
    Limit(
        "theft",
        "What a thief signed before the time from which a key was reported lost: it counts as its owner's.",
    ),
    Limit(
        "clock",
        "When something was recorded, where only the operator's clock says so: a cosignature or a time stamp"
        " that covers it shows that it is no younger.",
    ),
    Limit(
        "omission",
        "What the exporter left out beside the entries: a time stamp, or the second of two statements of one"
        " key that contradict each other.",
    ),
    Limit(
        "end",
        "What the operator left out of the log: where each chain ends is the log's own signed word, and"
        " whoever holds a receipt, a paper or a newer file can contradict it.",
    ),
    Limit(
        "silence",
        "A form that was never exported, and what a device never sent: only who kept a receipt, a paper or"
        " the device knows of it.",
    ),
    Limit(
        "collusion",
        "Everybody lying together, cosigners included: only a time stamp, a paper or a checkpoint kept"
        " elsewhere can contradict them.",
    ),
)
"""What the guide "What an attacker can and cannot do" calls not seen or not detectable."""
