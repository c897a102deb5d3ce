"""A file, or what is said on a form, made so long that whoever checks it waits for ever or runs out of
memory.

The work is counted in lines of Python that are run, which no busy machine changes: what is added to a file
twice as long is twice of what was added to one half as long. A step that looks at everything for each part of
it shows in this as a third of the work more, and soon as all of it. Seconds and megabytes at full size:
`tests/bench/bounded_verify.py`. Common practice, no source.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable
from importlib import resources
from math import prod
from types import FrameType
from typing import Any

import pytest
from promises import promised

from bailee.domain.folding import hands
from bailee.errors import BaileeError
from bailee.rules import registry, wording
from bailee.verify import bundle
from bailee.verify.log_audit import Audit
from bailee.verify.report_text import render_text
from bailee.verify.verifier import verify
from growing import grown
from log_simulator import AT

TWICE = 1.07
"""Proofs grow with the logarithm of the log, which is 4 % here; whatever is squared shows at once."""


def lines_run(work: Callable[[], Any]) -> int:
    """How many lines of Python it takes."""
    count = 0

    def line(_frame: FrameType, event: str, _: Any) -> Any:
        nonlocal count
        count += event == "line"
        return line

    before = sys.gettrace()
    sys.settrace(line)
    try:
        work()
    finally:
        sys.settrace(before)
    return count


def work_for(direction: str, count: int) -> int:
    """What reading, verifying and telling a file takes that is so much longer."""
    made = grown(direction, count)
    text = bundle.write(made.bundle)
    return lines_run(lambda: render_text(verify(bundle.read(text), made.trust, AT)))


@pytest.mark.slow
@pytest.mark.parametrize(
    "direction",
    ["samples", "devices", "lone halves", "one envelope", "envelopes", "excepted again"],
)
def test_twice_as_much_takes_twice_the_work(direction: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A party writes on its form until nobody can check it any more, and the evidence is as good as lost."""
    promised("makes a file long", "twice the time")
    monkeypatch.setattr(wording, "NAMED", 5)
    work_for("entries", 4)  # what is done once in a process
    once, twice, again = (work_for(direction, count) for count in (20, 40, 80))
    assert again - twice < TWICE * 2 * (twice - once)


@pytest.mark.slow
def test_a_log_twice_as_long_takes_a_monitor_twice_the_work() -> None:
    """Whoever watches somebody else's log falls behind for ever once a day takes longer to read
    than a day.
    """

    def read(count: int) -> int:
        log = grown("entries", count).log
        audit = Audit(log.origin)
        return lines_run(lambda: [list(audit.read(each.text, each.disclosures)) for each in log.log])

    read(4)
    once, twice, again = (read(count) for count in (20, 40, 80))
    assert again - twice < TWICE * 2 * (twice - once)


def test_the_page_bounds_a_file_as_the_program_does() -> None:
    """Two auditors with one file would be told two things."""
    page = resources.files("bailee.verify.page").joinpath("page.js").read_text("utf-8")
    (said,) = re.findall(r"file\.size > ([0-9 *]+)\)", page)
    assert prod(map(int, said.split("*"))) == bundle.MAX_BYTES
    assert f"at most {bundle.MAX_BYTES // 1024**2} MiB" in page


@pytest.mark.slow
def test_few_statements_that_mean_everything_are_followed_so_far_and_no_further(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Ten thousand times "all that I hold is locked away", of ten thousand samples, would fill any memory."""
    made = grown("unnamed of many", 40)  # 20 statements that each mean 23 samples
    asked = [verify(made.bundle, made.trust, AT)]
    monkeypatch.setattr(hands, "MOST_UNNAMED", 200)
    asked.append(verify(made.bundle, made.trust, AT))
    kept = [sum(len(held.kept) for each in found.samples for held in each.holders) for found in asked]
    assert kept[1] < 230 < kept[0]
    assert [[each.rule for each in found.findings if each.rule == "CU-19"] for found in asked] == [
        [],
        ["CU-19"],
    ]
    assert "that those from entry" in render_text(asked[1])


def test_a_rule_tells_so_much_and_that_there_is_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """A report of millions of findings would bury the one that matters."""
    made = grown("samples", 8)  # 11 runs of one pump at once
    monkeypatch.setattr(registry, "MOST_HITS", 7)
    told = [each for each in verify(made.bundle, made.trust, AT).findings if each.rule == "PV-10"]
    assert len(told) == 8
    (more,) = [each for each in told if "found more than 7 times" in each.sentence]
    assert (more.about, more.severity) == (made.bundle.form, told[0].severity)


@pytest.mark.parametrize(
    "filler", ["[],", '{"a":0},', "7,", '"x",'], ids=["lists", "objects", "numbers", "texts"]
)
def test_unknown_members_of_many_values_are_refused_before_they_fill_the_memory(
    filler: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sixty megabytes of `[],` in a member that no program knows become two thousand of memory."""
    text = bundle.write(grown("entries", 1).bundle)
    own = sum(map(text.count, ",[{"))
    longer = text.rstrip()[:-1] + ', "more": [' + (filler * 40)[:-1] + "]}"
    added = sum(map(longer.count, ",[{")) - own
    monkeypatch.setattr(bundle, "MAX_PARTS", own + added)
    assert bundle.read(longer).unknown == ("/more",)
    monkeypatch.setattr(bundle, "MAX_PARTS", own + added - 1)
    for each in (longer, longer.encode()):
        with pytest.raises(BaileeError) as caught:
            bundle.read(each)
        assert caught.value.code == "too-large"
        assert (
            caught.value.sentence
            == f"An auditor's file has at most {own + added - 1:,} values: this is another file, or it was"
            " made longer. Ask for it again."
        )


def test_the_longest_honest_file_is_far_below_every_bound() -> None:
    """A bound that refuses an organization with a thousand people refuses its evidence."""
    made = grown("devices", 60)
    text = bundle.write(made.bundle)
    each = sum(map(text.count, ",[{")) / len(made.bundle.entries)
    # a log of 2**40 entries: so many hashes in a proof, and as many in that of the tree head which a device
    # saw
    deepest = 40 * 2
    assert (each + deepest) * bundle.MAX_ENTRIES < bundle.MAX_PARTS
    assert (
        len(json.dumps(json.loads(text))) / len(made.bundle.entries) * bundle.MAX_ENTRIES < bundle.MAX_BYTES
    )
