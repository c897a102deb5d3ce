"""No story that people can sign may stop the rules, the verdicts, the chase list or the papers."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from test_forms import any_form

from bailee.documents import sample_table
from bailee.domain import lots
from bailee.planning.due_list import chase
from bailee.presentation.form_view import form_view
from bailee.rules import qualified
from bailee.rules.registry import evaluate
from bailee.rules.verdicts import verdicts
from builders import Story
from thorough import often

pytestmark = pytest.mark.slow  # left out between two saves of a file


@given(any_form())
@settings(max_examples=often(12, thorough=60))
def test_every_well_formed_story_is_judged_to_its_end(story: Story) -> None:
    """One strange but signed statement would hide every other fault of the form, and its papers could not be
    printed.
    """
    case = story.case()
    findings = evaluate(case)
    assert len(verdicts(case, findings, records_state="own log")) == 4
    for form in case.forms.values():
        for sample in form.samples.values():
            assert isinstance(qualified.wording(form, sample, findings), str)
        view = form_view(form, case, findings)
        assert len(sample_table.rows(view)) == len(form.samples)
        assert all(row.words and row.samples for row in view.hand_overs)
    for each in chase(case, [lots.fold(story.chains[f"lot/{number}"]) for number in story.lots], ()):
        assert each.sentence.endswith(".")
        assert each.concerns
