"""What is weighed beside the records: who else saw them and when, and what their verdict says in words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bailee.ledger.checkpoint import Checkpoint
from bailee.verify import evidence, records_verdict
from bailee.verify.cosigned_checkpoints import Cosigned
from bailee.verify.evidence import Notes
from bailee.verify.result import Remark, Stamped
from bailee.verify.verifier import verify
from builders import CLERK, FIRM, LAB
from log_simulator import AT, told
from spoiling import cosigned, cosigners

NOON = 1_796_212_800  # 2026-12-02T12:00:00Z
CHECKPOINT = Checkpoint("ledger.example/log1", 31, bytes(32))


def test_only_those_the_auditor_believes_have_seen_the_log() -> None:
    """A stamp by anybody at all would bound a time, or a second witness replace the first."""
    stamps = [
        Stamped(9, "2026-12-01T09:00:00Z", "", signed="checked", authority="A"),
        Stamped(12, "2026-12-01T10:00:00Z", "", signed="not believed"),
        Stamped(14, "2026-12-01T11:00:00Z", ""),
    ]
    by = Cosigned({"lab": NOON}, enough=True)
    seen = [(9, "2026-12-01T09:00:00Z"), (31, "2026-12-02T12:00:00Z")]
    assert records_verdict.seen_outside(CHECKPOINT, by, stamps) == seen
    assert records_verdict.seen_outside(None, by, stamps) == seen[:1]


@pytest.mark.parametrize(
    ("size", "at", "told_of"),
    [
        (31, "2026-12-02T16:59:59Z", []),  # five minutes and a little: clocks differ
        (31, "2026-12-02T16:54:00Z", ["form 12"]),
        (30, "2026-12-02T16:54:00Z", []),  # the last entry was not yet in what was seen
    ],
)
def test_a_clock_is_ahead_only_of_what_covers_the_entry(size: int, at: str, told_of: list[str]) -> None:
    """An honest operator would be accused because a stamp is older than an entry it never covered."""
    log, notes = told(), Notes()
    items = evidence.read_entries(log.bundle().entries, None, Notes())
    last = items[-1]
    assert (last.entry.rec, last.index) == ("2026-12-02T17:00:05.000Z", 30)
    records_verdict.weigh_clock([last], [(size, at)], notes)
    assert [f"form {each.place.n}" for each in notes.remarks] == told_of
    assert all(isinstance(each, Remark) and evidence.shown(at) in each.sentence for each in notes.remarks)


def test_the_verdict_says_why_records_are_not_called_complete() -> None:
    """A reader would take a root that nobody compared for one that was, or look for a fault where a finding
    is meant.
    """
    log = told()
    log.revoked(CLERK, since="2026-12-02T10:00:00-05:00", last_good_seq=log.device(CLERK).seq)
    trust = cosigners(log, 1, "lab")
    unpinned = replace(trust, roots={})

    def sentence(*names: str, brought: object = unpinned) -> str:
        return verify(cosigned(log.bundle(), *names), brought, AT).verdicts[0].sentence

    said = f"They are not called complete: the root of {FIRM}, {LAB} was not brought."
    assert said in sentence("lab")
    assert "called complete" not in sentence("lab", brought=trust)
    assert "called complete" not in verify(log.bundle(), unpinned, AT).verdicts[0].sentence
    assert sentence("lab", brought=trust).endswith("(+00:00).")
