"""The rows of the acts, held against the facts they speak of."""

from __future__ import annotations

from typing import Final

import pytest

from bailee.domain import forms
from bailee.domain.acts.row import Row
from bailee.domain.acts.table import ERASING, ON_CHAIN, ROWS, name_of
from bailee.domain.facts import members

TABLE: Final = "service/bailee/domain/acts/table.py"
EVERY = pytest.mark.parametrize("row", ROWS.values(), ids=list(ROWS))


@EVERY
def test_a_row_speaks_of_members_that_its_act_has(row: Row) -> None:
    """A misspelt member would be found nowhere, and two statements about one thing taken for two things."""
    known = {member.key for member in members(row.facts).values()}
    paths = [part for path in row.about for part in path.split("+")]
    own = [row.time, row.lasts, *row.other_times, *row.computed, *row.drawn, row.brings_key, *row.seen]
    named = {path.partition(".")[0] for path in [*paths, *own] if path}
    assert named <= known, (
        f"{TABLE}: the row {row.name!r} names {named - known}, which {row.facts.__name__} has not"
    )


@EVERY
def test_a_row_names_acts_of_its_own_chain(row: Row) -> None:
    """What makes an act possible once more would be looked for where it is never said."""
    others = set(ON_CHAIN[row.chain]) - {row.name}
    assert set(row.undone_by) <= others, (
        f"{TABLE}: `undone_by` of {row.name!r} names no other act of its chain"
    )


@EVERY
def test_only_what_happened_to_glass_is_an_event_and_is_never_refused(row: Row) -> None:
    """A partner's system would hold a remark for a movement, or a true hand-over be lost for a wrong role."""
    is_done = bool(row.time) or row.name == "voided"
    here = f"{TABLE}, row {row.name!r}:"
    assert row.chain == "form" or not row.time, (
        f"{here} not on a form, so write other_times=({row.time!r},) for `time`"
    )
    needs = (
        "it is done to glass (it has a `time`) and needs a"
        if is_done
        else "it is only said (it has no `time`) and may have no"
    )
    assert bool(row.step) == is_done, f"{here} {needs} `step`"
    physical = (is_done and not row.is_decision) or row.name in {
        "affirmed",
        "witnessed",
        "pump_checked",
        "outdoor_ruled_out",
        "conditions_read",
        "building_changed",
    }
    assert row.physical == physical, f"{here} write physical={physical}"


@EVERY
def test_what_happened_to_glass_may_have_been_written_by_pen(row: Row) -> None:
    """In a power cut what was written on the spot would be entered as what somebody remembered."""
    is_done = row.physical and row.chain == "form" and row.name not in {"affirmed", "witnessed"}
    assert ("paper" in row.facts.keys) == is_done, (
        f"{row.facts.__name__}: `paper: OnPaper | None = None` belongs to what is done to glass, and no other"
    )


@EVERY
def test_what_happened_to_glass_is_followed(row: Row) -> None:
    """A hand-over of a new kind would be recorded, and the samples would stay where they were."""
    wanted = f"{row.facts.__name__}: a function of (form, said)"
    followed = not row.step or row.facts in forms._MEANING
    assert followed, f"service/bailee/domain/forms.py: _MEANING lacks `{wanted}`, with a test in tests/domain"


def test_the_same_facts_are_told_apart_by_their_act() -> None:
    """A lot's erasure would be written on a form, or a rejection built as an acceptance."""
    assert {kind: row.name for kind, row in ERASING.items()} == {
        "form": "erased",
        "lot": "lot_erased",
        "org": "person_erased",
    }
    shared = [row.name for row in ROWS.values() if name_of(row.facts) != row.name]
    assert shared == ["on_hold", "rejected", "lot_erased", "person_erased"]
