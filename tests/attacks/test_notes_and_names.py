"""A signed text of one kind that is made to pass as one of another."""

from __future__ import annotations

import pytest

from bailee.errors import Malformed
from bailee.ledger import ends
from bailee.ledger.checkpoint import Checkpoint, KeyType, VerifierKey, cosignature_message


@pytest.mark.parametrize(
    "name",
    [
        ends.FORMAT,
        cosignature_message(1, "").decode().split("\n")[0],
        "subtree/v1",
        "BAILEE-ENDS/1",
        "bailee-x/2",
    ],
)
def test_no_log_and_no_cosigner_bears_the_first_line_of_another_text(name: str) -> None:
    """A log of that name signs checkpoints that read as its word on where chains end, and the other way
    round.
    """
    with pytest.raises(Malformed, match="another kind of signed text"):
        Checkpoint(name, 1, bytes(32))
    with pytest.raises(Malformed, match="another kind of signed text"):
        VerifierKey(name, KeyType.ED25519, bytes(32))
