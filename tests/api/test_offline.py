"""What a device asks before it goes where there is no network."""

from __future__ import annotations

from bailee.domain.moments import Moment
from bailee.operations import brief
from bailee.signing import signed_statement
from field import FIRM, LAB, Field


def test_a_device_learns_how_far_the_ledger_has_its_count(field: Field) -> None:
    """A phone put back from an old copy would sign under counters that it used before, and its key is forked
    for ever: it must be able to ask first (common practice, no source).
    """
    device = field.people["inspector"]
    field.open_form()
    told = field.get("inspector", "/devices/me").get_json()
    assert (told["kid"], told["organization"], told["role"]) == (device.key.kid, FIRM, "inspector")
    assert (told["person"], told["device"]) == ("Inspector Person", "inspector phone")
    assert (told["highest"], told["missing"], told["gaps"], told["end"]) == (1, 0, [], None)
    held = {"secured": "possession", "where": "person", "since": "2026-12-01T09:00:00-05:00"}
    form = field.number("form")
    lost = [device.sign(f"form/{form}", "held", held) for _ in range(3)]
    assert len(lost) == 3
    field.open_form()
    told = field.get("inspector", "/devices/me").get_json()
    assert (told["highest"], told["missing"], told["gaps"]) == (5, 3, [[2, 4]])
    newest = signed_statement.read(told["newest"])
    assert (newest.kid, newest.claims.seq, signed_statement.digest(told["newest"])) == (
        device.key.kid,
        5,
        device.prev,
    )


def test_a_key_without_a_word_has_counted_to_nothing(field: Field) -> None:
    """A new phone would not know whether it may begin with one."""
    told = field.get("second", "/devices/me").get_json()
    assert (told["highest"], told["missing"], told["gaps"], told["newest"]) == (0, 0, [], None)


def test_a_counter_far_ahead_costs_no_more_than_it_wrote(field: Field) -> None:
    """Whoever signs under the highest counter there is must not be able to make a list of all before it."""
    device = field.people["inspector"]
    field.open_form()
    device.seq = 2**40
    field.open_form()
    told = field.get("inspector", "/devices/me").get_json()
    assert (told["highest"], told["missing"]) == (2**40 + 1, 2**40 - 1)
    assert told["gaps"] == [[2, 2**40]]


def test_a_key_that_has_ended_learns_when_and_how_far_its_word_stands(field: Field) -> None:
    """The phone of somebody who was let go would go on collecting, and nothing of it would count."""
    device = field.people["inspector"]
    field.open_form()
    ended = {
        "kid": device.key.kid,
        "reason": "lost",
        "since": Moment.shown_in(field.clock(), "America/New_York").text(),
        "last_good_seq": 1,
    }
    root = field.roots[FIRM]
    field.ok(field.send(root.sign(f"org/{FIRM}", "revoked", ended)), root)
    assert field.get("inspector", "/forms").get_json()["code"] == "revoked-key"
    end = field.get("inspector", "/devices/me").get_json()["end"]
    assert (end["last_good_seq"], end["reason"], end["since"]) == (1, "lost", ended["since"])
    assert end["recorded"] == "2026-12-01T14:00:00Z"


def test_a_device_is_told_of_itself_alone(field: Field) -> None:
    """Who does not hold the key must not learn what it signed, not even whether it is enrolled."""
    assert field.client.get("/devices/me").get_json()["code"] == "no-token"
    newcomer = field.people["newcomer"] = field.device("newcomer", FIRM)
    answer = field.get("newcomer", "/devices/me")
    assert (answer.status_code, answer.get_json()["code"]) == (403, "unknown-key")
    header, _, _ = field.people["inspector"].bearer["Authorization"].rpartition(".")
    _, _, foreign = newcomer.bearer["Authorization"].rpartition(".")
    answer = field.client.get("/devices/me", headers={"Authorization": f"{header}.{foreign}"})
    assert answer.get_json()["code"] == "unknown-key"


def test_who_ends_a_lost_key_learns_how_far_the_ledger_has_it(field: Field) -> None:
    """The last good entry number of a lost phone is guessed, and honest entries count for nothing. Nobody
    else learns it, and nobody of a key of strangers.
    """
    field.open_form()
    lost = field.people["inspector"].key.kid
    boss = field.people["boss"] = field.device("boss", FIRM)
    field.enroll(boss, "admin")
    told = field.get("boss", f"/devices/{lost}").get_json()
    assert (told["kid"], told["person"], told["highest"], told["end"]) == (lost, "Inspector Person", 1, None)
    answer = field.get("clerk", f"/devices/{lost}")
    assert (answer.status_code, answer.get_json()["code"]) == (403, "wrong-role")
    for kid in (field.roots[LAB].key.kid, "nobody"):
        assert field.get("boss", f"/devices/{kid}").status_code == 404


def test_the_brief_holds_what_a_basement_needs(field: Field) -> None:
    """Without it nobody knows there whether a cassette is in date, or to whom it can be given."""
    lot, samples = field.lot(3)
    form = field.open_form()
    field.collect(form, lot, samples[0])
    told = field.get("inspector", "/brief").get_json()
    assert (told["organization"], told["edition"], told["laboratories"]) == (FIRM, 1, [LAB])
    (box,) = told["lots"]
    assert (box["lot"], box["expires"], box["recalled"], box["run_s"]) == (lot, "2027-03-31", False, 300)
    assert box["issued"] == samples
    people = {each["person"]: each["role"] for each in told["people"]}
    assert people["Clerk Person"] == "clerk"
    assert "Dock Person" not in people
    assert [(each["kind"], each["id"]) for each in told["instruments"]] == [("meter", "M-3")]
    (visit,) = told["forms"]
    length, head = field.head(f"form/{form}")
    assert (visit["form"], visit["zone"], visit["lab"]) == (form, "America/New_York", LAB)
    assert (visit["length"], visit["head"]) == (length, head)
    holder = field.people["inspector"].key.kid
    assert visit["samples"] == [
        {
            "sample": samples[0],
            "kind": "indoor",
            "status": "collected",
            "holder": holder,
            "envelope": None,
            "given_to": None,
        }
    ]
    assert told["policy"]["height_min_m"]


def test_what_was_relinquished_is_expected_until_it_is_received(field: Field) -> None:
    """A clerk who begins with an empty screen types twelve numbers that the ledger knows."""
    lot, samples = field.lot(3)
    form = field.open_form()
    for sample in samples:
        field.collect(form, lot, sample)
    clerk, at = field.people["clerk"].key.kid, Moment(field.clock.now, -300).text()
    for mine, to in ((samples[:1], {"to": FIRM, "to_kid": clerk}), (samples[1:2], {"to": FIRM}),
                     (samples[2:], {"to": LAB})):  # fmt: skip
        field.act("inspector", f"form/{form}", "relinquished", {"samples": mine, "at": at, **to})
    lines = field.get("clerk", "/brief").get_json()["forms"][0]["samples"]
    assert [each["given_to"] for each in lines] == [clerk, "", None]
    items = [{"sample": samples[0], "condition": ["intact"]}]
    field.act("clerk", f"form/{form}", "received", {"items": items, "at": at})
    lines = field.get("clerk", "/brief").get_json()["forms"][0]["samples"]
    assert [each["given_to"] for each in lines] == [None, "", None]


def test_what_has_left_is_no_longer_under_way(field: Field) -> None:
    """A list that never gets shorter is not read."""
    field.faultless()
    assert field.get("inspector", "/brief").get_json()["forms"] == []


def test_a_device_learns_what_was_erased(field: Field) -> None:
    """A client who has an address erased is told that it is gone, and the inspector's phone would keep it."""
    form = field.open_form()
    first = field.get("inspector", "/brief")
    assert first.get_json()["erased"] == []
    root, chain = field.roots[FIRM], f"form/{form}"
    root.heads[chain] = field.head(chain)[1]
    statement = field.people["inspector"].prev
    field.ok(
        field.send(root.sign(chain, "erased", {"statement": statement, "count": 1}, {"fields": "site"})), root
    )
    headers = {**field.people["inspector"].bearer, "If-None-Match": first.headers["ETag"]}
    (told,) = field.client.get("/brief", headers=headers).get_json()["erased"]
    assert told == {"form": form, "statements": [statement], "recorded": "2026-12-01T14:00:00Z"}


def test_a_device_learns_what_was_erased_of_a_visit_long_ago(field: Field) -> None:
    """After twenty newer visits the address would stay on the phone that was switched off meanwhile."""
    form = field.open_form()
    statement = field.people["inspector"].prev
    for _ in range(brief.MOST_FORMS):
        field.open_form()
    root, chain = field.roots[FIRM], f"form/{form}"
    for name in ("site", "client"):
        root.heads[chain] = field.head(chain)[1]
        said = {"statement": statement, "count": 1}
        field.ok(field.send(root.sign(chain, "erased", said, {"fields": name})), root)
        field.clock.advance(hours=1)
    told = field.get("inspector", "/brief").get_json()["erased"]
    assert told == [{"form": form, "statements": [statement], "recorded": "2026-12-01T15:00:00Z"}]
    assert field.get("dock", "/brief").get_json()["erased"] == [], "the laboratory never spoke there"


def test_the_laboratory_takes_along_nothing_of_the_firm(field: Field) -> None:
    """Lots, people and pumps of a customer are no business of its laboratory."""
    lot, samples = field.lot(1)
    field.collect(field.open_form(), lot, samples[0])
    told = field.get("dock", "/brief").get_json()
    assert (told["organization"], told["lots"], told["forms"], told["instruments"]) == (LAB, [], [], [])


def test_an_unchanged_brief_is_not_sent_twice(field: Field) -> None:
    """A phone at the edge of a network would load all of it each time it is opened (RFC 9110 13.1.2)."""
    first = field.get("inspector", "/brief")
    headers = {**field.people["inspector"].bearer, "If-None-Match": first.headers["ETag"]}
    again = field.client.get("/brief", headers=headers)
    assert (again.status_code, again.data) == (304, b"")
    field.lot(1)
    assert field.client.get("/brief", headers=headers).status_code == 200
