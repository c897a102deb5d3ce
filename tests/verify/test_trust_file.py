"""The file in which an auditor writes down whom to trust."""

from __future__ import annotations

import pytest

from bailee.errors import Malformed
from bailee.ledger.checkpoint import format_vkey
from bailee.signing import notes
from bailee.verify import policy
from spoiling import cosigner as key
from spoiling import cosigner_vkey as public

LOG = format_vkey(notes.verifier_key("ledger.example/x", key("log")))
GOOD = f"""
# what we trust since 2026
log {LOG}

cosigner lab {format_vkey(public("lab"))}
cosigner   notary	{format_vkey(public("notary"))}
quorum 2
"""


def test_a_policy_file_says_whom_the_auditor_trusts() -> None:
    """If the file is read differently than it is written, the wrong people are believed."""
    found = policy.read(GOOD)
    assert [each.name for each in found.log_keys] == ["ledger.example/x"]
    assert found.cosigners == {"lab": public("lab"), "notary": public("notary")}
    assert found.quorum == 2
    assert policy.read(f"log {LOG}\r\n").quorum == 0


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("quorum 2", "quorum 3"), "larger"),
        (("quorum 2", ""), "how many"),
        (("quorum 2", "quorum -1"), "Line 7"),
        (("quorum 2", "quorum 2\nquorum 1"), "Line 8"),
        (("cosigner   notary", "cosigner lab"), "Line 6"),
        (("cosigner   notary", "witness notary"), "Line 6"),
        ((f"log {LOG}", ""), "no `log` line"),
        ((f"log {LOG}", f"log {format_vkey(public('lab'))}"), "not the key of a log"),
        ((format_vkey(public("notary")), LOG), "not the key of a cosigner"),
        (
            (format_vkey(public("notary")), format_vkey(notes.cosigner_key("twin.example", key("lab")))),
            "one key",
        ),
        ((LOG[-4:], "AAA="), "verifier key"),
    ],
)
def test_a_policy_that_could_be_misread_is_refused(change: tuple[str, str], says: str) -> None:
    """A slip in this file would lower the bar without anybody noticing."""
    with pytest.raises(Malformed, match=says):
        policy.read(GOOD.replace(*change, 1))
