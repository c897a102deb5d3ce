"""The table of who reads what in guides/privacy.md: a row without a test is a hope, and a test for no row is
forgotten there.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

TESTS: Final = Path(__file__).resolve().parents[1]
PRIVACY: Final = TESTS.parent / "service/bailee/guides/privacy.md"
HELD: Final = {
    "size, hashes and checkpoints of the log": {
        "api/test_without_an_account.py": (
            "test_every_operation_tells_nobody_anything",
            "test_the_operations_for_everybody_say_hashes_and_nothing_else",
        ),
    },
    "names of organizations, their calendars, and the limits of organizations that receive samples": {
        "api/test_who_sees_what.py": ("test_any_enrolled_key_can_plan_a_first_shipment_and_reads_no_more",),
        "api/test_beforehand.py": ("test_a_name_like_it_is_found",),
    },
    "a form, its samples and envelopes": {
        "api/test_who_sees_what.py": ("test_firm_and_laboratory_see_the_form_and_nobody_else",),
    },
    "what is private on a form": {
        "api/test_second_laboratory.py": (
            "test_the_second_laboratory_reads_custody_and_not_whose_house_it_is",
        ),
        "attacks/test_enrolled_stranger.py": (
            "test_a_second_laboratory_reads_entry_by_entry_and_in_its_file_whose_house_it_is",
        ),
    },
    "a lot": {
        "api/test_who_sees_what.py": (
            "test_a_lot_is_its_owners_alone",
            "test_a_lot_of_others_is_told_of_as_of_one_that_nobody_entered",
            "test_a_lot_handed_to_somebody_by_name_is_known_on_their_forms",
        ),
    },
    "where a lot was used": {
        "api/test_chasing.py": (
            "test_where_a_recalled_lot_went",
            "test_a_laboratory_sees_where_a_lot_came_to_it",
        ),
    },
    "keys, roles, equipment, trained people, a firm's own thresholds": {
        "api/test_who_sees_what.py": (
            "test_any_enrolled_key_can_plan_a_first_shipment_and_reads_no_more",
            "test_naming_somebody_on_a_form_of_ones_own_opens_nothing",
            "test_naming_a_firm_does_not_tell_its_thresholds",
        ),
    },
    "every entry, without private fields": {
        "operations/test_publishing.py": ("test_what_people_said_is_only_for_monitors",),
    },
    "To be named on another's form opens nothing": {
        "api/test_who_sees_what.py": (
            "test_the_file_of_a_form_that_names_others_and_their_lot_holds_nothing_of_them",
        ),
    },
    "What you may not read is answered like what does not exist": {
        "api/test_unseen_is_unknown.py": (
            "test_every_question_about_a_number_is_answered_as_if_it_were_not_there",
            "test_no_operation_is_forgotten",
        ),
    },
}
"""By row of the table, and by sentence under it: the tests that hold it."""


def test_every_row_of_who_reads_what_has_its_tests() -> None:
    """If this fails, the guide promises somebody who reads what, and nothing would notice that it
    is not so.
    """
    text = PRIVACY.read_text("utf-8").partition("| what | who reads it |")[2].partition("\n## ")[0]
    rows = re.findall(r"^\| ([^|-][^|]*) \|", text, re.MULTILINE)
    prose = " ".join(text.partition("\n\n")[2].split())
    assert set(rows) <= HELD.keys()
    assert [each for each in HELD if each not in rows and each not in prose] == []


def test_the_tests_of_who_reads_what_are_there() -> None:
    """If this fails, a promise of the guide hangs on a test that was renamed or taken away."""
    missing = [
        (file, name)
        for tests in HELD.values()
        for file, names in tests.items()
        for name in names
        if f"\ndef {name}(" not in (TESTS / file).read_text("utf-8")
    ]
    assert missing == []
