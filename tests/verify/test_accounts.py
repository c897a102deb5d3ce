"""Who said what and when, and who held a sample: held against the entries' own texts and against the story as
it was told.
"""

from __future__ import annotations

import json
import time
from base64 import urlsafe_b64decode
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from hashlib import sha256
from typing import Any

import pytest

from bailee.ledger.base64url import b64u
from bailee.signing.signed_statement import Seen
from bailee.verify.result import Endorsement, Holding, Report, SecuredStretch, Signer, Visit
from bailee.verify.verifier import verify
from builders import ANALYST, CUSTODIAN, FIRM, LAB, LAB_ROOT, PEOPLE, ROOT
from log_simulator import AT, LogSimulator, told
from spoiling import LATER, cosigned, cosigners, keep


def report(log: LogSimulator) -> Report:
    """What the verifier says of the form."""
    return verify(log.bundle(), log.trust(), AT)


def unsigned(part: str) -> Any:
    """A part of a compact JWS, read with the standard library alone (RFC 7515 3.1)."""
    return json.loads(urlsafe_b64decode(part + "=="))


def written(log: LogSimulator) -> Iterator[tuple[int, dict[str, Any], str, dict[str, Any]]]:
    """Index, entry, key and claims of everything in the log, as its texts say."""
    for index, each in enumerate(log.log):
        entry = json.loads(each.text)
        header, claims, _ = entry["stmt"].split(".")
        yield index, entry, unsigned(header)["kid"], unsigned(claims)


def test_every_line_says_what_its_entry_says() -> None:
    """A report would lay one person's words into another's mouth."""
    log = told()
    people = {log.device(each).key.kid: each for each in (ROOT, LAB_ROOT, *PEOPLE)}
    lines = report(log).entries
    assert len(lines) == len(log.log)
    for line, (index, entry, kid, claims) in zip(lines, written(log), strict=True):
        person = people[kid]
        assert (line.index, line.chain, line.n, line.recorded) == (
            index, entry["chain"], entry["n"], entry["rec"],
        )  # fmt: skip
        assert (line.act, line.org, line.kid) == (claims["act"], claims["iss"], kid)
        assert (line.person, line.role) == (person.name, person.role)
        claimed = datetime.fromisoformat(line.claimed)
        assert (claimed.timestamp(), line.claimed[-6:]) == (claims["iat"], claims["tzo"])
        shown = [unsigned(each) for each in log.log[index].disclosures]
        assert line.told == {name: value for _, name, value in shown}
        assert line.redacted == len(claims.get("_sd", ())) - len(shown) == 0


def test_a_statement_is_not_older_than_the_newest_it_had_seen() -> None:
    """A hand-over could be dated before the cassette was drawn, and the report would not narrow it."""
    log = told()
    chain = f"form/{log.form}"
    run = log.find(chain, 4)
    leaf = b64u(sha256(b"\x00" + log.log[run].text.encode()).digest())
    offline = log.append(chain, keep(log, after=leaf, seen=None))
    size = log.find(chain, 7)
    head = b64u(log.earlier(log.bundle().entries)[0].root)
    seen = next(each for each in log.earlier(log.bundle().entries) if each.size == size)
    older = log.append(chain, keep(log, after=leaf, seen=Seen(size, b64u(seen.root))))
    blind = log.append(chain, keep(log, after=None, seen=None))
    unproven = log.append(chain, keep(log, after=None, seen=Seen(3, head)))
    shown = log.bundle()
    shown = replace(shown, earlier=tuple(each for each in shown.earlier if each.size != 3))
    windows = {each.index: each.not_before for each in verify(shown, log.trust(), AT).entries}
    recorded = [json.loads(each.text)["rec"] for each in log.log]
    assert windows[offline] == recorded[run]
    assert windows[older] == max(recorded[:size]) > recorded[run]
    assert windows[blind] is None
    assert windows[unproven] is None


def test_what_the_form_is_about() -> None:
    """The report of one visit would bear the day or the client of another."""
    log = told()
    private = {name: f"Invented {name} 1" for name in ("client", "site", "contact")}
    visit = Visit("2026-12-01", "America/New_York", FIRM, LAB, "P-001", private)
    assert report(log).visit == visit


def test_every_hand_of_a_sample_is_told_with_its_times() -> None:
    """The chain of custody in the report would not be the one that people signed."""
    log = told()
    account = next(each for each in report(log).accounts if each.number == log.samples[0])
    sealed = f"envelope {log.envelope}"
    grouped, grouped_seal = (" ".join(n[at : at + 4] for at in (0, 4, 8)) for n in (log.envelope, log.seal))
    dock = "2026-12-02T10:40:00-06:00"
    assert (account.kind, account.status, account.lot) == ("indoor", "accepted", log.lots[0])
    assert (account.started, account.run_s) == ("2026-12-01T09:12:00-05:00", 300)
    assert (account.condition, account.void) == (("intact",), False)
    assert account.holdings == (
        Holding(
            "Inspector One (harrow-field)",
            FIRM,
            "collected the sample",
            "2026-12-01T09:17:00-05:00",
            "2026-12-01T09:18:00-05:00",
            "2026-12-01T14:18:05.000Z",
            2,
            (SecuredStretch("locked", "vehicle", "2026-12-01T09:50:00-05:00", None, 5),),
            "relinquished to Clerk One (harrow-field) for shipping, entry 6",
            "2026-12-01T11:30:00-05:00",
            None,
        ),
        Holding(
            "Clerk One (harrow-field)",
            FIRM,
            "received it",
            "2026-12-01T11:36:00-05:00",
            "2026-12-01T11:36:00-05:00",
            "2026-12-01T16:36:05.000Z",
            7,
            (
                SecuredStretch("in a restricted room", "office", "2026-12-01T11:40:00-05:00", None, 8),
                SecuredStretch("sealed", sealed, "2026-12-01T14:00:00-05:00", dock, 9),
            ),
            "shipped: given to the carrier acorn-freight, entry 10",
            "2026-12-01T15:30:00-05:00",
            360,
        ),
        Holding(
            "the carrier acorn-freight",
            "carrier",
            f"was given envelope {grouped}, tracking number TRACK-0001",
            "2026-12-01T15:30:00-05:00",
            "2026-12-01T15:30:00-05:00",
            "2026-12-01T20:30:05.000Z",
            10,
            (SecuredStretch("sealed", sealed, "2026-12-01T15:30:00-05:00", dock, 10),),
            "delivered to Custodian One (quill-lab), entry 11",
            dock,
            None,
        ),
        Holding(
            "Custodian One (quill-lab)",
            LAB,
            f"received it at the dock in envelope {grouped}, seal {grouped_seal} intact",
            dock,
            dock,
            "2026-12-02T16:40:05.000Z",
            11,
            (),
            None,
            None,
            None,
        ),
    )


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="this system does not let a program choose its zone")
def test_times_do_not_hang_on_the_auditor_s_laptop(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same file would tell other times in New York than in Chicago."""
    log = told()
    file, trust = cosigned(log.bundle(), "lab"), cosigners(log, 1, "lab")
    expected = verify(file, trust, AT).to_json()
    monkeypatch.setenv("TZ", "America/New_York")
    time.tzset()
    try:
        found = verify(file, trust, AT).to_json()
    finally:
        monkeypatch.undo()
        time.tzset()
    assert found == expected


def test_what_is_not_there_is_said_to_be_missing() -> None:
    """An envelope without tracking number or seal would look like any other."""
    log = told("sealed")
    log.shipped(tracking=None)
    log.docked(dock={"seal": None, "seal_state": "missing"})
    *_, carrier, lab = report(log).accounts[0].holdings
    assert carrier.received.endswith(", no tracking number")
    assert lab.received.endswith(", no seal")


def test_a_hand_over_to_a_house_and_without_purpose_is_told_as_it_was_signed() -> None:
    """The report would name a receiver, or a purpose, that the giver did not."""
    log = told("held")
    log.relinquished(to_kid=None, purpose=...)
    (holding,) = report(log).accounts[0].holdings
    assert holding.given == "relinquished to harrow-field, entry 6"


def test_a_slide_sent_on_begins_with_whoever_took_it_out() -> None:
    """The new number at the second laboratory would have no past."""
    log = told()
    log.forwarded(0, at="2026-12-02T15:00:00-06:00")
    child = next(each for each in report(log).accounts if each.number == log.samples[-1])
    assert [(each.holder, each.received) for each in child.holdings] == [
        ("Custodian One (quill-lab)", "prepared it for forwarding to third-lab, under this number")
    ]


def test_a_voided_sample_is_marked() -> None:
    """A cassette that fell would be counted among those to be analyzed."""
    log = told("collected")
    log.voided(0)
    void = {each.number: (each.status, each.void) for each in report(log).accounts}
    assert void == {
        log.samples[0]: ("voided", True),
        log.samples[1]: ("collected", False),
        log.samples[2]: ("collected", False),
    }


def test_a_volume_from_one_reading_of_the_flow_says_so() -> None:
    """Liters reckoned from half a measurement would look like any others, or like none on this paper and 75 L
    on that.
    """
    for missing in ("flow_before", "flow_after"):
        log = told("opened")
        left_out: dict[str, Any] = {missing: ...}
        log.collected(0, **left_out)
        (sample,) = report(log).samples
        assert sample.read_once
        assert f"L at {sample.flow} L/min (from one reading of the flow)" in sample.drawn, missing
    log = told("opened")
    log.collected(0, flow_before=..., flow_after=...)
    (account,) = report(log).accounts
    assert (account.flow_lpm, account.volume_l) == (None, None)


def test_every_signer_is_named_with_its_enrollment_and_count() -> None:
    """A key would be given more weight than it has, or be looked for at another entry."""
    log = told()
    said: Counter[str] = Counter()
    enrolled: dict[str, int] = {}
    for _, entry, kid, claims in written(log):
        said[kid] += 1
        if claims["act"] in {"founded", "enrolled"}:
            enrolled[claims["data"].get("kid", kid)] = entry["n"]
    people = {log.device(each).key.kid: each for each in (ROOT, LAB_ROOT, *PEOPLE)}
    expected = [
        Signer(kid, people[kid].org, people[kid].role, people[kid].name, enrolled[kid], count, None)
        for kid, count in said.items()
    ]
    assert list(report(log).signers) == expected


def test_a_key_that_ended_is_named_with_reason_time_and_place() -> None:
    """A signer would look as good as the others in the list of signers, whatever became of the key."""
    log = told()
    log.revoked(CUSTODIAN, since="2026-12-03T08:00:00-06:00", last_good_seq=9)
    ended = {each.person: each.revoked for each in report(log).signers}
    where = f"org/{LAB}"
    n = max(entry["n"] for _, entry, _, _ in written(log) if entry["chain"] == where)
    assert ended.pop(CUSTODIAN.name) == f"lost, since 2026-12-03 08:00 (-06:00), entry {n} of {where}"
    assert set(ended.values()) == {None}
    assert ANALYST.name not in ended  # who said nothing here is no signer


def test_an_endorsement_is_weighed_against_this_file_and_the_auditor_s_roots() -> None:
    """One firm's word for a false root would be shown like a true one."""
    log = told()
    chain, root = f"org/{FIRM}", log.device(LAB_ROOT).key.kid
    own = log.device(ROOT).key.kid
    for endorsed, trust, fits, pinned in (
        (root, log.trust(), True, True),
        (root, log.trust(harrow=None), True, False),
        (own, log.trust(), False, True),
    ):
        data = {"org": LAB, "root": endorsed}
        log.append(chain, log.signed(ROOT, chain, "endorsed", data, said=LATER))
        found = verify(log.bundle(), trust, AT).endorsements
        assert found == (Endorsement(LAB, endorsed, FIRM, fits, pinned),)
