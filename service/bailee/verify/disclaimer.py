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
        "What was done: labels exchanged before they were signed for, a false place, a pump that did not run."
        " Signatures show who signed what; serials, seals, counts and a second person make a false entry"
        " easier to detect.",
    ),
    Limit(
        "hands",
        "Whose hand it was: one person can sign with another's unlocked device.",
    ),
    Limit(
        "theft",
        "What another user of the key signed before the time from which it was reported lost: it counts as"
        " its owner's.",
    ),
    Limit(
        "clock",
        "When something was recorded, where only the operator's clock shows it: a cosignature or a time stamp"
        " that covers it shows that it is no younger.",
    ),
    Limit(
        "omission",
        "What is missing from the file beside the entries: a time stamp, or the second of two entries of one"
        " key that contradict each other.",
    ),
    Limit(
        "end",
        "What is missing from the log: where each chain ends is signed by the log itself, and a receipt, a"
        " paper or a newer file can contradict it.",
    ),
    Limit(
        "silence",
        "A form that was never exported, and what a device never sent: only a receipt, a paper or the device"
        " itself shows it.",
    ),
    Limit(
        "collusion",
        "All parties acting together, cosigners included: only a time stamp, a paper or a checkpoint held"
        " elsewhere can contradict them.",
    ),
)
"""What the guide "What an attacker can and cannot do" calls not seen or not detectable."""
