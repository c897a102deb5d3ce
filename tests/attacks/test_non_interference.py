"""Nothing that an organization which is no party of a form says changes what is told about the form.

A verdict, a finding, an answer, a list or a file is reckoned from a case (`rules/case.py`): the form, its
lots, its organizations, what is said elsewhere, contradictions, gaps. These are all the ways in which a
stranger might get into one, and why none leads there; the tests compare a ledger to which he writes with one
in which he does not exist, request by request, entry by entry of the file.

His own chains (`org/`, his forms, his lots):
    A case reads the form's chain, the organizations that speak on it or are named by it, and the lots of
    those who speak. Of his it reads one thing: a lot from which he issued a cassette by name to a key of
    somebody who speaks there, and who wrote its number there. His calendars, limits, endorsements and keys
    count for those who name him.
Chains of others:
    His entries are refused before the log is written (`authorization.require`) and nothing is left behind
    (D-002). A key speaks in the name of its own organization only, whoever enrolled or revoked it besides.
Contradictions:
    Kept only of a key that might have said it there (`register._keep`); what would begin a chain is kept
    whether or not others have begun it, so that no list tells. Found for a form only by the keys that speak
    on it and keys of its parties, so a pair needs a party's key.
Equal numbers:
    Of what is said elsewhere about samples, seals, bills, serials, pumps and laboratory numbers only the word
    of the form's parties counts, on forms that the asker may see (`Elsewhere`,
    `operations/number_lookup.py`); seals, bills, serials and pumps are each organization's own. An envelope
    number that several senders used is at the dock the one whose cassettes were read inside, never the one
    recorded first; where they do not decide, the form is asked for (`several-senders`). An issue decides
    whose a sample is only when it was recorded before anybody the asker sees claimed it; otherwise what the
    asker received does, or the first claimant who alone sent it, and else the asker is asked
    (`several-claimants`): whoever comes first with everything, before the owner issued or collected, cannot
    be told from an owner. The owner of a lot is told which of its numbers were claimed elsewhere, at most a
    hundred: `LotTold` shows it and no rule reads it. The name of a chain is drawn with fifty bits by the
    device that begins it, and he who has not heard it cannot take it first.
The same text again, too late, or not at all:
    The first answer again; a gap in counters is asked for the keys on the form; nobody waits for somebody who
    is no party.
The end of a key:
    Ends his own, or is refused; a party's key ends by its own organization.
Private fields, photographs, time stamps, cosignatures:
    Disclosures belong to the statement that bears their digests, and are refused with it. Time stamps and
    cosignatures are over the whole log and taken only from authorities and cosigners that the operator set
    up.
Growth of the log:
    Moves places: index, size, checkpoint, proofs. No rule reads them. Whoever hurries waits alone (rates by
    key and address); what he fills are his own lists, and the pages of a list that name a party because he
    named it on a form of his.

A party of a form is another matter: it speaks there, and is answered there. Naming somebody makes him a party
who may speak, so a firm that names a laboratory lets it.

A longer run: `BAILEE_EXAMPLES=500 pytest -p no:randomly tests/attacks/test_non_interference.py`, with other
seeds each time.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import UTC
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from stranger import ACTS, Known, Stranger
from two_ledgers import Grounds, TwoLedgers

from bailee.domain.moments import Moment

EXAMPLES = int(os.environ.get("BAILEE_EXAMPLES", "0"))
SAID = st.lists(st.tuples(st.sampled_from(ACTS), st.integers(0, 29)), max_size=4)
FAULTLESS, EXPIRED, SHORT, MISCOUNTED, SEALLESS, VOIDED = SPOILT = range(6)
"""What goes wrong at the firm or on the way."""
STAGES = 8
RECORDED = {
    "founded",
    "enrolled",
    "revoked",
    "policy_set",
    "calendar_set",
    "endorsed",
    "opened",
    "collected",
    "sealed",
    "unsealed",
    "shipped",
    "received",
    "taken_in",
    "accepted",
    "rejected",
    "on_hold",
    "voided",
    "corrected",
    "forwarded",
    "excepted",
    "copied",
    "disposed",
    "retention_held",
    "held",
    "relinquished",
    "lot_received",
    "issued",
    "recalled",
    "surface_collected",
    "requested",
    "conditions_read",
    "building_changed",
    "lab_numbered",
    "stored",
    "withdrawn",
    "notified",
}
"""What the ledger takes of him: his own affairs, and so no reason to change a word about others."""
PLOTS = st.lists(SAID, min_size=STAGES, max_size=STAGES)


@pytest.fixture(scope="module")
def grounds(tmp_path_factory: pytest.TempPathFactory) -> Grounds:
    """Founded once."""
    return Grounds(tmp_path_factory.mktemp("non-interference"))


def a_visit(two: TwoLedgers, spoilt: int) -> Iterator[Known]:
    """From the lot to the laboratory's decision, and a pause after each step, in which the stranger may
    speak.

    `spoilt`: honest people make mistakes; a case with findings has more to change than one without.
    """
    field = two.quiet
    lot, samples = field.lot(3, expiry="2026-06-30" if spoilt == EXPIRED else "2027-03-31")
    form, envelope, seal = field.open_form(), field.number("envelope"), field.number("seal")
    known = Known(form, lot, tuple(samples), envelope, seal, "AF-1002003")
    yield known
    for sample, kind in zip(samples, ("indoor", "indoor", "outdoor"), strict=True):
        field.collect(form, lot, sample, kind, **({"run_s": 200} if spoilt == SHORT else {}))
    yield known
    field.hand_to_clerk(form, samples)
    yield known
    sealed = field.seal(envelope, samples, seal, **({"counted": 2} if spoilt == MISCOUNTED else {}))
    yield known
    if sealed["statements"]:
        field.ship(envelope)
    yield known
    field.clock.now = field.clock.now.replace(day=field.clock.now.day + 1, hour=16, minute=30)
    field.dock(form, envelope, samples, seal if spoilt != SEALLESS else None)
    yield known
    at = Moment(field.clock().astimezone(UTC), -360).text()
    numbered = {each: f"Q-{n}" for n, each in enumerate(samples, 1)}
    field.act("dock", f"form/{form}", "accepted", {"samples": samples, "at": at, "lab_numbers": numbered})
    yield known
    if spoilt == VOIDED:
        field.act("inspector", f"form/{form}", "voided", {"sample": samples[0], "reason": "dropped"})
    yield known


def play(grounds: Grounds, plots: list[list[tuple[str, int]]], spoilt: int) -> Stranger:
    """One visit with what the stranger says after each step.

    Everything is compared at the end, and every answer on the way.
    """
    with grounds.copies() as two:
        stranger = Stranger(two.loud)
        known: Any = None
        for known, said in zip(a_visit(two, spoilt), plots, strict=True):
            for name, dice in said:
                stranger.act(name, dice, known)
        two.compare(known.form, list(known.samples), known.envelope, known.lot)
        return stranger


@pytest.mark.slow
@pytest.mark.parametrize("spoilt", SPOILT if EXAMPLES else (SEALLESS,))
def test_an_organization_that_tries_everything_once_at_every_step_changes_no_word_about_a_form_of_others(
    grounds: Grounds, spoilt: int
) -> None:
    """Common practice, no source: non-interference compares two runs that differ only in what
    one party did.
    """
    plots = [
        [("open", step), *((name, step + place) for place, name in enumerate(ACTS))] for step in range(STAGES)
    ]
    heard = play(grounds, plots, spoilt).heard
    assert {act for act, code in heard if code == "recorded"} >= RECORDED
    assert {code for _, code in heard} >= {
        "device-fork",
        "wrong-organization",
        "bad-key-proof",
        "number-taken",
    }


@pytest.mark.slow
@given(plots=PLOTS, spoilt=st.sampled_from(SPOILT))
@settings(
    max_examples=EXAMPLES or 3,
    derandomize=not EXAMPLES,
    phases=(Phase.generate, Phase.shrink) if EXAMPLES else (Phase.generate,),
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
def test_nothing_that_an_organization_says_changes_a_word_about_a_form_it_is_no_party_of(
    grounds: Grounds, plots: list[list[tuple[str, int]]], spoilt: int
) -> None:
    """The same of what nobody thought of."""
    play(grounds, plots, spoilt)
