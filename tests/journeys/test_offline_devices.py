"""Two inspectors, a clerk and a dock without a network, on two forms: whichever arrives first, auditors read
one story.
"""

from __future__ import annotations

import copy
import dataclasses
import re
import shutil
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bailee.domain import causal_order
from bailee.domain.moments import Moment
from bailee.domain.statements import Recorded
from bailee.ledger import entry as entries
from bailee.ledger.base64url import b64u
from bailee.ledger.checkpoint import parse_vkey
from bailee.signing import recording, signed_statement
from bailee.signing.signed_statement import Seen
from bailee.store import tree
from bailee.verify import bundle
from bailee.verify.result import Report
from bailee.verify.verifier import Trust, verify
from field import FIRM, Device, Field, make_home
from grounds import migrated
from thorough import often

Signed = dict[str, Any]
DEVICES = ("inspector", "second", "clerk", "dock")
HELD = {"secured": "locked", "where": "vehicle", "since": "2026-12-01T09:30:00-05:00"}


BY_ARRIVAL = ("CU-08",)
"""Rules that hold a device's clock against the time of recording: they may say more of what
arrived at once."""
EVENING = datetime(2026, 12, 3, 22, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Morning:
    """What everybody saw before the network went: a ledger on disk, two forms of two entries each, and the
    tree heads over them.
    """

    home: Path
    people: Mapping[str, Device]
    now: datetime
    forms: tuple[str, str]
    leaves: Mapping[str, Sequence[str]]
    heads: Sequence[Seen]
    samples: Sequence[str]
    runs: Sequence[dict[str, Any]]
    envelope: str


@dataclass(frozen=True)
class Said:
    """One statement signed without a network, and the form it is about."""

    form: str
    sent: Signed = dataclasses.field(repr=False)

    @property
    def digest(self) -> str:
        """Its id."""
        return signed_statement.digest(self.sent["statement"])


@dataclass(frozen=True)
class Outcome:
    """What an auditor reads of one form, without what tells how it arrived (places in chain and log, recorded
    times).
    """

    statements: Sequence[str]
    ordered: Sequence[str]
    samples: Sequence[Any]
    findings: Sequence[tuple[str, str, str]]


def database(home: Path) -> str:
    """The address of the database in a folder."""
    return f"sqlite:///{home / 'ledger.sqlite'}"


@pytest.fixture(scope="module")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Morning:
    """Two visits begun online, one cassette of each; four more in the bag.

    What is run later is known: only the telling is drawn.
    """
    home = tmp_path_factory.mktemp("morning")
    migrated(home / "ledger.sqlite")
    field = Field(make_home(home, database(home)))
    field.people["copied"] = field.device("copied", FIRM)
    field.enroll(field.people["copied"], "inspector")
    lot, samples = field.lot(6)
    forms = (field.open_form(), field.open_form())
    heads, leaves = [], {}
    for form, sample in zip(forms, samples[:2], strict=True):
        opened = field.head(f"form/{form}")[1]
        field.collect(form, lot, sample)
        leaves[form] = [opened, field.head(f"form/{form}")[1]]
        field.ledger.sequencer.integrate()
        heads.append(newest(field))
    runs = [field.run(lot, each) for each in samples[2:]]
    envelope = field.number("envelope")
    field.ledger.database.close()
    return Morning(home, field.people, field.clock.now, forms, leaves, heads, samples, runs, envelope)


def newest(field: Field) -> Seen:
    """The newest tree head."""
    with field.ledger.database.reading() as connection:
        head = tree.newest_head(connection)
    assert head is not None
    return Seen(head.size, b64u(head.root))


@contextmanager
def copied(morning: Morning) -> Iterator[Field]:
    """The ledger as it was in the morning: the same statements can be sent to several of them, each in
    another order.
    """
    with TemporaryDirectory() as folder:
        home = Path(folder) / "home"
        shutil.copytree(morning.home, home)
        field = Field(make_home(home, database(home)), start=False)
        field.people = {name: replace(each, clock=field.clock) for name, each in morning.people.items()}
        field.clock.now = morning.now
        try:
            yield field
        finally:
            field.ledger.database.close()


def story(
    morning: Morning, name: str, given: Mapping[str, str]
) -> list[tuple[int, str, dict[str, Any], Sequence[str]]]:
    """What a device says, in its order: which of the two forms, act, facts, and the statements it scanned
    from another phone.

    `given`: by giver, the id of the statement with which samples were given to the clerk.
    """
    one, _, *later = morning.samples
    at = Moment(morning.now, -300).text()
    to_clerk = {"to": FIRM, "to_kid": morning.people["clerk"].key.kid, "purpose": "shipping", "at": at}
    packed = [one, later[0], later[2]]

    def taken(numbers: Sequence[str]) -> dict[str, Any]:
        items = [{"sample": each, "condition": ["intact"]} for each in numbers]
        return {"items": items, "count": len(items), "at": at}

    def scanned(giver: str) -> Sequence[str]:
        return [given[giver]] if giver in given else []

    envelope, seal = morning.envelope, "S-1"
    sealed = {
        "envelope": envelope,
        "seal": seal,
        "samples": packed,
        "count": 3,
        "total": 3,
        "forms": [morning.forms[0]],
        "at": at,
        "across_opening": True,
        "record_enclosed": True,
    }
    shipped = {
        "envelope": envelope,
        "carrier": "acorn-freight",
        "service": "next day",
        "service_days": 1,
        "handed_over": at,
    }
    opened = {"envelope": envelope, "seal": seal, "seal_state": "intact", "package": ["sound"], "total": 3}
    said: dict[str, list[tuple[int, str, dict[str, Any], Sequence[str]]]] = {
        "inspector": [
            (0, "collected", morning.runs[0], ()),
            (0, "relinquished", {"samples": packed[:2], "count": 2, **to_clerk}, ()),
            (1, "collected", morning.runs[1], ()),
            (1, "held", HELD, ()),
        ],
        "second": [
            (0, "collected", morning.runs[2], ()),
            (0, "relinquished", {"samples": packed[2:], "count": 1, **to_clerk}, ()),
            (1, "collected", morning.runs[3], ()),
            (1, "voided", {"sample": later[3], "reason": "dropped"}, ()),
        ],
        "clerk": [
            (0, "received", {**taken(packed[:2]), "purpose": "shipping"}, scanned("inspector")),
            (0, "received", {**taken(packed[2:]), "purpose": "shipping"}, scanned("second")),
            (0, "sealed", sealed, ()),
            (0, "shipped", shipped, ()),
        ],
        "dock": [
            (0, "received", {**taken(packed), "dock": opened}, ()),
            (0, "accepted", {"samples": packed, "at": at}, ()),
            (1, "held", HELD, ()),
        ],
    }
    return said[name]


@st.composite
def offline(draw: st.DrawFn, morning: Morning) -> list[Said]:
    """Two to four devices tell a beginning of their story, each by its own clock and by what it happened to
    have seen.
    """
    said: list[Said] = []
    given: dict[str, str] = {}
    for name in draw(
        st.lists(st.sampled_from(DEVICES), min_size=2, unique=True).map(
            lambda n: sorted(n, key=DEVICES.index)
        )
    ):
        device = copy.deepcopy(morning.people[name])
        device.clock.now = morning.now
        device.clock.advance(minutes=draw(st.integers(-30, 30)))
        whole = story(morning, name, given)
        for which, act, facts, refs in whole[: draw(st.integers(1, len(whole)))]:
            device.clock.advance(minutes=draw(st.integers(0, 9)))
            form = morning.forms[which]
            after, seen = (
                draw(st.sampled_from([None, *morning.leaves[form]])),
                draw(st.sampled_from([None, *morning.heads])),
            )
            said.append(
                Said(form, device.sign(f"form/{form}", act, facts, after=after, refs=refs, seen=seen))
            )
            if act == "relinquished":
                given[name] = said[-1].digest
    return said


@st.composite
def copies(draw: st.DrawFn, morning: Morning) -> tuple[list[Said], list[Said]]:
    """A phone and its copy, which both go on from one count: one to four statements of each,
    on either form.
    """
    said: list[list[Said]] = []
    for where in ("office", "home"):
        device = copy.deepcopy(morning.people["copied"])
        forms = draw(st.lists(st.sampled_from(morning.forms), min_size=1, max_size=4))
        signed = [
            (form, device.sign(f"form/{form}", "held", {**HELD, "where": where}, after=None))
            for form in forms
        ]
        said.append([Said(form, sent) for form, sent in signed])
    return said[0], said[1]


@st.composite
def uploads(draw: st.DrawFn, said: Sequence[Said]) -> list[list[Signed]]:
    """All of it in any order, some twice, alone or in batches."""
    places = draw(st.permutations(range(len(said))))
    for again in draw(st.lists(st.sampled_from(places), max_size=4)):
        places.insert(draw(st.integers(0, len(places))), again)
    cuts = draw(st.sets(st.integers(1, len(places) - 1)))
    return [
        [said[at].sent for at in places[first:last]]
        for first, last in pairwise([0, *sorted(cuts), len(places)])
    ]


def send(field: Field, batch: Sequence[Signed]) -> list[str]:
    """Send it; what became of each statement."""
    answer = field.client.post("/entries", json={"statements": list(batch)})
    assert answer.status_code == 200, answer.text
    return [each["status"] for each in answer.get_json()["answers"]]


def audited(field: Field, form: str) -> tuple[Report, list[Recorded]]:
    """The auditor's file of a form, verified: the report, and what is on the form as recorded.

    No fault may be found.
    """
    field.clock.now = EVENING
    file = bundle.read(field.get("clerk", f"/forms/{form}/bundle").text)
    roots = {org: root.key.kid for org, root in field.roots.items()}
    report = verify(file, Trust(roots, (parse_vkey(field.ledger.vkey),)), Moment(EVENING, 0))
    assert (report.state, report.faults) == ("intact, not cosigned", ())
    read = [
        recording.own_entry(entries.read(each.text), entries.link(each.text), ()) for each in file.entries
    ]
    return report, sorted((each for each in read if each.chain == f"form/{form}"), key=lambda each: each.n)


def told(field: Field, form: str) -> Outcome:
    """What the auditor reads of a form."""
    report, chain = audited(field, form)
    names = {entry.n: entry.digest for entry in chain}
    return Outcome(
        sorted(names.values()),
        [entry.digest for entry in causal_order.causal(chain)],
        [without_arrival(asdict(each), names) for each in report.accounts],
        sorted(
            (each.rule, each.severity, each.about) for each in report.findings if each.rule not in BY_ARRIVAL
        ),
    )


def without_arrival(told: Any, names: Mapping[int, str]) -> Any:
    """The same without recorded times, and with the statement itself where its number on the chain is told
    (`names`).
    """
    if isinstance(told, dict):
        kept = {name: without_arrival(each, names) for name, each in told.items() if name != "recorded"}
        return {**kept, "n": names[told["n"]]} if "n" in told else kept
    if isinstance(told, str):
        return re.sub(r"\bentry (\d+)", lambda found: names[int(found[1])], told)
    return [without_arrival(each, names) for each in told] if isinstance(told, list | tuple) else told


def arrive(field: Field, data: st.DataObject, said: Sequence[Said]) -> list[str]:
    """Everything is sent as drawn, time passes, the tree grows now and then.

    What became of each statement.
    """
    became: list[str] = []
    for batch in data.draw(uploads(said), label="uploads"):
        became += send(field, batch)
        field.clock.advance(minutes=data.draw(st.integers(0, 90), label="minutes"))
        if data.draw(st.booleans(), label="tree head"):
            field.ledger.sequencer.integrate()
    return became


@pytest.mark.slow
@given(st.data())
@settings(max_examples=often(5, thorough=15))
def test_in_whatever_order_devices_come_online_auditors_read_one_story(
    morning: Morning, data: st.DataObject
) -> None:
    """A statement would be lost or counted twice, or who held a sample would depend on whose phone found the
    network first.
    """
    said = data.draw(offline(morning), label="said")
    with copied(morning) as field:
        for each in said:
            assert send(field, [each.sent]) == ["registered"]
        straight = {form: told(field, form) for form in morning.forms}
    with copied(morning) as field:
        became = arrive(field, data, said)
        assert became.count("registered") == len(said)
        assert set(became) <= {"registered", "already"}
        for form in morning.forms:
            found = told(field, form)
            assert {each.digest for each in said if each.form == form} <= set(found.statements)
            assert len(found.statements) == 2 + sum(each.form == form for each in said)
            assert found == straight[form]


@pytest.mark.slow
@given(st.data())
@settings(max_examples=often(5, thorough=15))
def test_a_copied_phone_is_found_in_whatever_order_its_statements_arrive(
    morning: Morning, data: st.DataObject
) -> None:
    """Whoever restored a phone beside itself could keep the nicer of two statements, or honest records would
    be called broken for it.
    """
    honest = data.draw(offline(morning), label="honest")
    forked = data.draw(copies(morning), label="forked")
    with copied(morning) as field:
        became = arrive(field, data, [*honest, *(each for one in forked for each in one)])
        assert became.count("registered") >= len(honest) + 1
        doubled = {each.form for pair in zip(*forked, strict=False) for each in pair}
        for form in morning.forms:
            report, chain = audited(field, form)
            here = {entry.digest for entry in chain}
            assert len(here) == len(chain)
            assert {each.digest for each in honest if each.form == form} <= here
            assert form not in doubled or "CU-10" in {each.rule for each in report.findings}
