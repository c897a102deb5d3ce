"""Phones that were offline, whose statements reach the ledger in any order: one story, in one file, called
broken by nobody.
"""

from __future__ import annotations

import copy
import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bailee.domain.moments import Moment
from bailee.ledger import entry as entries
from bailee.ledger.checkpoint import parse_vkey
from bailee.signing import signed_statement
from bailee.verify import bundle
from bailee.verify.result import Report
from bailee.verify.verifier import Trust, verify
from field import FIRM, Device, Field
from grounds import SqliteGround, founding
from thorough import often

HELD = {"secured": "locked", "where": "vehicle", "since": "2026-12-01T09:30:00-05:00"}
PHONES = ("inspector", "second", "clerk")


@dataclass
class Day:
    """A form, a cassette for each of two inspectors, and what three phones signed without a network."""

    field: Field
    form: str
    samples: list[str]
    signed: list[dict[str, Any]]


@pytest.fixture(scope="module")
def field(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Field]:
    """One ledger for all the days; each has a form of its own."""
    folder = tmp_path_factory.mktemp("interleaved")
    made, _ = SqliteGround().after(founding, folder)
    yield made
    made.ledger.database.close()


def offline(field: Field) -> Day:
    """Everybody has seen the form opened and signs on, each by itself: collected, kept, kept again."""
    lot, samples = field.lot(2)
    form = field.open_form()
    chain = f"form/{form}"
    _, opened = field.head(chain)
    signed = []
    for name, sample in zip(PHONES, [*samples, None], strict=True):
        phone = field.people[name]
        phone.heads[chain] = opened
        if sample:
            signed.append(phone.sign(chain, "collected", field.run(lot, sample)))
        signed += [phone.sign(chain, "held", HELD) for _ in range(2)]
    return Day(field, form, samples, signed)


def judged(day: Day) -> tuple[Report, list[str]]:
    """The auditor's report of the form, and the ids of the statements on it, in the order of the file."""
    text = day.field.get("clerk", f"/forms/{day.form}/bundle").text
    told = bundle.read(text)
    roots = {org: root.key.kid for org, root in day.field.roots.items()}
    trust = Trust(roots, (parse_vkey(day.field.ledger.vkey),))
    here = [entries.read(each.text) for each in told.entries]
    ids = [signed_statement.digest(each.stmt) for each in here if each.chain == f"form/{day.form}"]
    return verify(told, trust, Moment(day.field.clock().astimezone(UTC), 0)), ids


@pytest.mark.slow
@given(st.data())
@settings(max_examples=often(6, thorough=25))
def test_any_order_of_arrival_gives_the_same_statements_and_nothing_broken(
    field: Field, data: st.DataObject
) -> None:
    """A basement without a network would cost a statement, record one twice, or make honest people look like
    forgers.
    """
    day = offline(field)
    places = range(len(day.signed))
    sent = data.draw(st.permutations(places), label="order")
    again = data.draw(st.lists(st.sampled_from(places), max_size=4), label="sent again")
    cuts = data.draw(st.sets(st.integers(1, len(sent) + len(again) - 1), max_size=4), label="batches")
    growing = data.draw(st.booleans(), label="tree heads in between")
    uploads = [day.signed[place] for place in (*sent, *again)]
    for first, last in itertools.pairwise([0, *sorted(cuts), len(uploads)]):
        assert field.send(*uploads[first:last]).status_code in (200, 201)
        if growing:
            field.ledger.sequencer.integrate()
    field.ledger.sequencer.integrate()

    report, ids = judged(day)
    assert (report.state, report.faults) == ("intact, not cosigned", ())
    said = [signed_statement.digest(each["statement"]) for each in day.signed]
    assert sorted(ids[1:]) == sorted(said)  # the first opened the form
    assert {each.number for each in report.accounts if each.started} == set(day.samples)
    assert "CU-10" not in {each.rule for each in report.findings}


_NAMES = itertools.count()


@pytest.mark.slow
@given(st.data())
@settings(max_examples=often(4, thorough=12))
def test_a_copied_phone_is_found_in_any_order_of_arrival(field: Field, data: st.DataObject) -> None:
    """Whoever restored a phone beside its copy could keep the nicer of two statements, if the other arrived
    at the right moment.
    """
    day = offline(field)
    chain = f"form/{day.form}"
    phone = field.device(f"copied {next(_NAMES)}", FIRM)
    field.enroll(phone, "inspector")
    twin: Device = copy.deepcopy(phone)
    forked = [
        phone.sign(chain, "held", HELD, after=None),
        twin.sign(chain, "held", {**HELD, "where": "office"}, after=None),
    ]
    after = phone.sign(chain, "held", HELD, after=None)
    told = [*day.signed, *forked, after]
    for place in data.draw(st.permutations(range(len(told))), label="order"):
        field.send(told[place])
        if data.draw(st.booleans()):
            field.ledger.sequencer.integrate()
    field.ledger.sequencer.integrate()

    report, ids = judged(day)
    assert report.faults == ()
    assert len(ids) == len(set(ids))
    assert "CU-10" in {each.rule for each in report.findings}
