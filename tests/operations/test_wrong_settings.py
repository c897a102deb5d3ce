"""What an operator is told who mistypes a setting: which, in which file, and what it must be (common
practice, no source).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bailee.config import SETTINGS_FILE, load
from bailee.errors import Malformed
from bailee.operations.publishing.cosignatures import configured

GOOD = 'origin = "ledger.example/log1"\naddress = "http://127.0.0.1:8765"\ndatabase = "sqlite:///x"\n'


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('lease_ms = "15s"', 'lease_ms = "15s", and must be a whole number from 200 to 600000'),
        ("lease_ms = 5", "lease_ms = 5, and must be a whole number from 200 to 600000"),
        ('founding = "closed"', 'founding = "closed", and must be "listed" or "open"'),
        ('pooler = "yes"', 'pooler = "yes", and must be true or false'),
        ('cosigners = ["a", ""]', 'cosigners = ["a", ""], and must be a list of texts'),
        ("high_water = 3", "high_water = 3, and must be a text"),
    ],
)
def test_a_value_that_cannot_be_used_is_told_with_its_file_and_what_it_must_be(
    tmp_path: Path, line: str, said: str
) -> None:
    """Somebody at night would look through twenty settings for the one with a unit behind its number."""
    (tmp_path / SETTINGS_FILE).write_text(GOOD + line)
    with pytest.raises(Malformed) as wrong:
        load(tmp_path, {})
    assert said in wrong.value.sentence
    assert str(tmp_path / SETTINGS_FILE) in wrong.value.sentence


def test_a_setting_that_stands_twice_is_told_as_that(tmp_path: Path) -> None:
    """Who adds a line below, as a manual says, instead of changing the one above would read "Cannot overwrite
    a value".
    """
    (tmp_path / SETTINGS_FILE).write_text(GOOD + "cosigners_required = 0\ncosigners_required = 1\n")
    with pytest.raises(Malformed, match=r"at line 5, .* Every setting stands in it once"):
        load(tmp_path, {})


@pytest.mark.parametrize("typed", ["http://127.0.0.1:8766", "quill.example/cosigner+00000000+AA== http://a"])
def test_a_cosigner_s_key_that_is_none_is_told_with_its_setting(typed: str) -> None:
    """The bare sentence about a verifier key says neither which key nor where it stands."""
    with pytest.raises(Malformed, match="The setting `cosigners` has") as wrong:
        configured([typed], "ledger.example/log1")
    assert repr(typed) in wrong.value.sentence
    assert wrong.value.code in ("vkey", "weak-key")
