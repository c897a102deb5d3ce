"""What a key said after it has ended, at every edge; and who may affirm it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from bailee.domain.authorization import Doubt, Speech, affirmed, doubt, require
from bailee.domain.moments import Moment
from bailee.domain.organizations import Key, Revocation
from bailee.domain.statements import Recorded, parse
from bailee.errors import Forged
from builders import CUSTODIAN, FIRM, INSPECTOR, QUALITY, ROOT, SECOND_INSPECTOR, Story, _jwk, visit

SINCE = "2026-12-01T12:00:00-05:00"
LOSS = Moment.parse(SINCE).instant
REPORT = LOSS + timedelta(hours=2)


def said(seq: int, rec_s: float) -> Recorded:
    """A statement with this counter, recorded so many seconds after the loss."""
    entry = visit("opened").chains[f"org/{FIRM}"][0]
    return Recorded(
        **{
            name: getattr(entry, name)
            for name in (
                "chain",
                "n",
                "leaf",
                "digest",
                "kid",
                "org",
                "act",
                "at",
                "prev",
                "after",
                "data",
                "body",
            )
        },
        seq=seq,
        rec=LOSS + timedelta(seconds=rec_s),
    )


def ended(successor: str | None = None) -> Key:
    """A key that was lost, or handed over, after its seventh statement."""
    return Key("k", "x", "inspector", 1, None, revocation=Revocation(9, REPORT, SINCE, 7, "lost", successor))


@pytest.mark.parametrize(
    ("seq", "rec_s", "lost", "replaced"),
    [
        (8, -1, "", ""),
        (8, 0, "in_doubt", "in_doubt"),
        (7, 0, "", ""),
        (8, 7200, "in_doubt", "in_doubt"),
        (7, 7200, "", ""),
        (7, 7201, "late", ""),
        (8, 7201, "beyond", "beyond"),
    ],
)
def test_what_an_ended_key_said(seq: int, rec_s: float, lost: Doubt, replaced: Doubt) -> None:
    """The thief's statement would stand, or the inspector's from the basement be thrown away (40 CFR
    3.2000(b), ledger rules of ours).
    """
    assert doubt(ended(), said(seq, rec_s)) == lost
    assert doubt(ended("successor"), said(seq, rec_s)) == replaced


def test_the_place_in_the_log_counts_more_than_its_clock() -> None:
    """An operator could set the clock back, so that what came after the report looks older."""
    assert doubt(ended(), said(8, -1), late=True) == "beyond"
    assert doubt(ended(), said(7, 9000), late=False) == ""


def test_a_key_that_has_not_ended_leaves_no_doubt() -> None:
    """Every statement of every phone would have to be affirmed."""
    assert doubt(Key("k", "x", "inspector", 1, None), said(10**6, 10**6)) == ""


def test_only_another_standing_key_of_the_same_organization_affirms() -> None:
    """The thief, or the other party of the dispute, could vouch for what the thief signed."""
    story = visit("held")
    held = story.state().entries[-1]
    story.affirmed(held, by=INSPECTOR)
    story.affirmed(held, by=CUSTODIAN)
    story.revoked(SECOND_INSPECTOR, since="2026-01-01T00:00:00Z", last_good_seq=0, rec="2026-01-01T00:00:00Z")
    story.affirmed(held, by=SECOND_INSPECTOR)
    orgs = story.case().organizations
    assert affirmed(story.state().entries, orgs) == {}
    good = story.affirmed(held, by=QUALITY)
    assert affirmed(story.state().entries, orgs) == {held.digest: good}


@pytest.mark.parametrize("recovery", [None, ROOT.kid])
def test_recovery_by_any_other_key_is_refused(recovery: str | None) -> None:
    """A stranger's statement would be stored as if the organization had been recovered."""
    story = Story()
    from dataclasses import replace

    from bailee.domain import organizations

    firm = replace(organizations.fold(story.chains[f"org/{FIRM}"]), recovery=recovery)
    data = {
        "recovery_jwk": _jwk(QUALITY),
        "kid": "A" * 43,
        "jwk": _jwk(QUALITY),
        "proof": "p",
        "since": SINCE,
    }
    body = parse(f"org/{FIRM}", "recovered", data)
    speech = Speech(QUALITY.kid, FIRM, f"org/{FIRM}", "recovered", 1, body)
    with pytest.raises(Forged) as refusal:
        require(speech, firm, length=5, owners=frozenset())
    assert refusal.value.code == "unknown-key"
    own = Speech(ROOT.kid, FIRM, f"org/{FIRM}", "recovered", 1, body)
    if recovery:
        require(own, firm, length=5, owners=frozenset())
