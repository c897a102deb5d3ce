"""What a correction may name."""

import pytest

from bailee.domain import statements
from bailee.errors import BadStatement

FORM = "form/F0000000000S"


def correction(field: str, new: str) -> dict[str, object]:
    """A correction of one field."""
    return {"statement": "A" * 43, "field": field, "old": None, "new": new, "reason": "typing"}


@pytest.mark.parametrize("field", ["question", "client", "site", "contact", "note", "place", "flowafter"])
def test_a_private_or_unknown_field_is_never_written_into_the_log(field: str) -> None:
    """A client's name typed into a correction would stand in the log in clear, where nobody can erase it."""
    with pytest.raises(BadStatement, match="no member of any statement"):
        statements.parse(FORM, "corrected", correction(field, "Perpetua Example"))


@pytest.mark.parametrize("field", ["flow_after", "preparation.windows_closed_h", "tracking"])
def test_a_public_member_may_be_corrected(field: str) -> None:
    """Flow, hours and numbers are what corrections are for."""
    assert statements.parse(FORM, "corrected", correction(field, "14.9"))
