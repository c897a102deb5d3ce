"""Who may speak for an organization, from when until when."""

from datetime import date

from bailee.domain import organizations
from bailee.domain.acts.organization import PolicySet
from bailee.domain.organizations import Organization
from bailee.domain.policy import Policy
from builders import (
    CLERK,
    FIRM,
    INSPECTOR,
    LAB_ROOT,
    PEOPLE,
    QUALITY,
    ROOT,
    WEEK,
    Person,
    Story,
    _jwk,
    name_of,
)

ADMIN = Person(FIRM, "admin", "Admin One")
NEWCOMER = Person(FIRM, "inspector", "Inspector Three")
SECOND_ROOT = Person(FIRM, "root", "Root Two")
OTHER = "third-party"
LATER = "2026-02-01T09:00:00-05:00"


def state(story: Story) -> Organization:
    """The firm as it stands."""
    return organizations.fold(story.chains[f"org/{FIRM}"])


def enroll(story: Story, person: Person, by: Person, **changes: object) -> int:
    """`by` enrolls `person`; gives the entry's n."""
    jwk = {"crv": "Ed25519", "kty": "OKP", "x": name_of("public", person.kid)}
    data = {"kid": person.kid, "jwk": jwk, "role": person.role, "proof": "p", **changes}
    return story.add(f"org/{FIRM}", "enrolled", data, by=by, said=LATER, disclosed={"person": person.name}).n


def revoke(story: Story, person: Person, by: Person, seq: int = 3) -> int:
    """`by` revokes `person`; gives the entry's n."""
    data = {"kid": person.kid, "reason": "lost", "since": LATER, "last_good_seq": seq}
    return story.add(f"org/{FIRM}", "revoked", data, by=by, said=LATER).n


def test_the_founder_is_root_and_enrolls_people() -> None:
    """The auditor could not trace a signer back to the thumbprint printed on the contract."""
    firm = state(Story())
    assert (firm.id, firm.root, firm.ignored) == (FIRM, ROOT.kid, ())
    assert firm.keys[ROOT.kid].role == "root"
    for person in PEOPLE:
        if person.org == FIRM:
            key = firm.keys[person.kid]
            assert (key.role, key.person, key.device, key.revocation) == (
                person.role,
                person.name,
                "phone",
                None,
            )
            assert key.x == name_of("public", person.kid)
    assert firm.length == len(Story().chains[f"org/{FIRM}"])
    assert firm.person(INSPECTOR.kid) == "Inspector One"
    assert firm.person("Q" * 43) == "key QQQQQQQQ"


def test_an_enrollment_by_somebody_without_that_right_changes_nothing() -> None:
    """An inspector could give a friend's phone a voice in the ledger."""
    for signer in (INSPECTOR, CLERK, QUALITY, LAB_ROOT, NEWCOMER):
        story = Story()
        n = enroll(story, NEWCOMER, by=signer)
        firm = state(story)
        assert NEWCOMER.kid not in firm.keys
        assert firm.ignored == (n,)
        assert firm.length == n


def test_an_administrator_enrolls_and_is_himself_enrolled() -> None:
    """The owner would have to fetch the root key from the safe for every new phone."""
    story = Story()
    enroll(story, ADMIN, by=ROOT)
    n = enroll(story, NEWCOMER, by=ADMIN)
    assert state(story).keys[NEWCOMER.kid].enrolled_n == n


def test_only_a_root_key_makes_or_ends_a_root_key() -> None:
    """A stolen administrator's phone could lock the owners out of their own organization for ever."""
    story = Story()
    enroll(story, ADMIN, by=ROOT)
    ignored = (enroll(story, SECOND_ROOT, by=ADMIN), revoke(story, ROOT, by=ADMIN))
    firm = state(story)
    assert SECOND_ROOT.kid not in firm.keys
    assert firm.keys[ROOT.kid].revocation is None
    assert firm.ignored == ignored
    enroll(story, SECOND_ROOT, by=ROOT)
    revoke(story, ROOT, by=SECOND_ROOT)
    firm = state(story)
    assert firm.keys[ROOT.kid].revocation is not None
    assert firm.root == ROOT.kid


def test_a_refused_role_is_named_with_its_article() -> None:
    """*A inspector may not* is read as a program's slip, and the rest of the sentence with it."""
    story = Story()
    firm = state(story)
    for person, begins in ((INSPECTOR, "An inspector may not sign"), (CLERK, "A clerk may not sign")):
        key = firm.keys[person.kid]
        assert organizations.why_not(firm, key, "policy_set", PolicySet(policy={})).startswith(begins)


def test_a_second_enrollment_of_one_key_changes_nothing() -> None:
    """A revoked key, or an inspector's, could be given another role by enrolling it again."""
    story = Story()
    n = enroll(story, INSPECTOR, by=ROOT, role="admin")
    revoke(story, INSPECTOR, by=ROOT)
    again = enroll(story, INSPECTOR, by=ROOT)
    firm = state(story)
    assert firm.keys[INSPECTOR.kid].role == "inspector"
    assert firm.keys[INSPECTOR.kid].revocation is not None
    assert firm.ignored == (n, again)


def test_a_revoked_key_is_kept_with_its_end_and_heard_no_more() -> None:
    """What the lost phone said before could no longer be checked, or what it says after would count."""
    story = Story()
    enroll(story, ADMIN, by=ROOT)
    n = revoke(story, ADMIN, by=ROOT, seq=7)
    late = enroll(story, NEWCOMER, by=ADMIN)
    second = revoke(story, ADMIN, by=ROOT, seq=1)
    firm = state(story)
    ended = firm.keys[ADMIN.kid].revocation
    assert ended is not None
    assert (ended.n, ended.last_good_seq, ended.reason, ended.since) == (n, 7, "lost", LATER)
    assert NEWCOMER.kid not in firm.keys
    assert firm.ignored == (late, second)


def test_a_key_unknown_here_cannot_be_revoked() -> None:
    """A mistyped thumbprint would seem to have stopped the lost phone."""
    story = Story()
    n = revoke(story, NEWCOMER, by=ROOT)
    assert state(story).ignored == (n,)


def rotate(story: Story, old: Person, new: Person, **changes: object) -> int:
    """`old` hands its role to `new`; gives the entry's n."""
    data = {"kid": new.kid, "jwk": _jwk(new), "proof": "p", "last_seq": 9, **changes}
    return story.add(f"org/{FIRM}", "rotated", data, by=old, said=LATER, disclosed={"device": "new phone"}).n


def test_a_rotated_key_hands_role_and_name_to_its_successor() -> None:
    """Every change of phone would need the administrator, or leave two keys of one person standing."""
    story = Story()
    n = rotate(story, INSPECTOR, NEWCOMER)
    firm = state(story)
    new, old = firm.keys[NEWCOMER.kid], firm.keys[INSPECTOR.kid]
    assert (new.role, new.person, new.device, new.enrolled_n, new.x) == (
        "inspector",
        INSPECTOR.name,
        "new phone",
        n,
        name_of("public", NEWCOMER.kid),
    )
    assert old.revocation is not None
    assert (old.revocation.successor, old.revocation.last_good_seq) == (NEWCOMER.kid, 9)
    assert rotate(story, INSPECTOR, SECOND_ROOT) in state(story).ignored  # it has no voice left to give away


def test_a_rotation_cannot_take_over_a_key_that_is_there() -> None:
    """An inspector could take the place of the quality manager, or bring a revoked key back."""
    story = Story()
    n = rotate(story, INSPECTOR, QUALITY)
    firm = state(story)
    assert firm.ignored == (n,)
    assert firm.keys[QUALITY.kid].role == "quality"
    assert firm.keys[INSPECTOR.kid].revocation is None


def test_a_root_key_may_be_rotated_and_the_pinned_root_stays() -> None:
    """Auditors would no longer find the thumbprint that stands on contracts."""
    story = Story()
    rotate(story, ROOT, SECOND_ROOT)
    firm = state(story)
    assert (firm.root, firm.keys[SECOND_ROOT.kid].role) == (ROOT.kid, "root")
    assert enroll(story, NEWCOMER, by=ROOT) in state(story).ignored
    assert enroll(story, NEWCOMER, by=SECOND_ROOT) not in state(story).ignored


SAFE = Person(OTHER, "root", "In the safe")


def recoverable() -> Story:
    """An organization founded with a recovery key, and one administrator."""
    story = Story()
    founder = Person(OTHER, "root", "Founder")
    data = {"name": "Other (example)", "jwk": _jwk(founder), "recovery": SAFE.kid}
    story.add(f"org/{OTHER}", "founded", data, by=founder, said=LATER)
    return story


def recover(story: Story, by: Person, **changes: object) -> int:
    """The recovery key speaks; gives the entry's n."""
    new = Person(OTHER, "root", "New root")
    data = {
        "recovery_jwk": _jwk(by),
        "kid": new.kid,
        "jwk": _jwk(new),
        "proof": "p",
        "since": LATER,
        "lost": [{"kid": Person(OTHER, "root", "Founder").kid, "last_good_seq": 1}],
        **changes,
    }
    return story.add(f"org/{OTHER}", "recovered", data, by=by, said=LATER, disclosed={"person": new.name}).n


def test_the_recovery_key_makes_a_new_root_and_ends_the_old_ones() -> None:
    """After a fire in the office the organization would have to found itself anew, or the thief of the root
    key would go on.
    """
    story = recoverable()
    recover(story, SAFE)
    other = organizations.fold(story.chains[f"org/{OTHER}"])
    founder, new = other.keys[other.root], other.keys[Person(OTHER, "root", "New root").kid]
    assert founder.revocation is not None
    assert (founder.revocation.reason, founder.revocation.last_good_seq) == ("lost", 1)
    assert (new.role, new.person, new.revocation) == ("root", "New root", None)
    assert (other.recovery, other.ignored) == (SAFE.kid, ())


def test_the_recovery_key_may_name_the_next_one() -> None:
    """A key that was out of its safe once could never be retired."""
    story = recoverable()
    next_one = Person(OTHER, "root", "Next safe")
    recover(story, SAFE, recovery=next_one.kid)
    other = organizations.fold(story.chains[f"org/{OTHER}"])
    assert other.recovery == next_one.kid
    third = Person(OTHER, "root", "Third")
    assert recover(story, SAFE, kid=third.kid, jwk=_jwk(third)) in (
        organizations.fold(story.chains[f"org/{OTHER}"]).ignored
    )


def test_nobody_but_the_recovery_key_recovers() -> None:
    """Whoever holds the administrator's phone, or any key at all, could take the organization."""
    for thief in (Person(OTHER, "root", "Founder"), NEWCOMER):
        story = recoverable()
        n = recover(story, thief)
        other = organizations.fold(story.chains[f"org/{OTHER}"])
        assert other.ignored == (n,)
        assert list(other.keys) == [other.root]
    story = Story()  # founded without one
    data = {"recovery_jwk": _jwk(NEWCOMER), "kid": NEWCOMER.kid, "jwk": _jwk(NEWCOMER), "proof": "p"}
    n = story.add(f"org/{FIRM}", "recovered", {**data, "since": LATER}, by=NEWCOMER, said=LATER).n
    assert state(story).ignored == (n,)


def test_an_endorsement_is_a_word_about_another_organization() -> None:
    """A firm could lend itself the trust of its own word, or a clerk that of the firm."""
    story = Story()
    data = {"org": "quill-lab", "root": LAB_ROOT.kid}
    story.add(f"org/{FIRM}", "endorsed", data, by=ROOT, said=LATER)
    of_itself = story.add(f"org/{FIRM}", "endorsed", {"org": FIRM, "root": ROOT.kid}, by=ROOT, said=LATER).n
    by_clerk = story.add(f"org/{FIRM}", "endorsed", data, by=CLERK, said=LATER).n
    firm = state(story)
    assert firm.endorsed == {"quill-lab": LAB_ROOT.kid}
    assert firm.ignored == (of_itself, by_clerk)
    assert LAB_ROOT.kid not in firm.keys


def test_founding_twice_changes_nothing() -> None:
    """A later founding could replace the root key that outsiders know."""
    story = Story()
    jwk = {"crv": "Ed25519", "kty": "OKP", "x": name_of("public", ADMIN.kid)}
    n = story.add(f"org/{FIRM}", "founded", {"name": "Other", "jwk": jwk}, by=ROOT, said=LATER).n
    firm = state(story)
    assert firm.root == ROOT.kid
    assert firm.name.startswith("Harrow")
    assert firm.ignored == (n,)


def test_policy_and_calendars_from_then_on() -> None:
    """The firm would be judged by thresholds and opening hours it has replaced."""
    story = Story()
    before = state(story)
    n = story.policy(outdoor_gap_min=90).n
    story.add(
        f"org/{FIRM}", "policy_set", {"policy": {"edition": 1, "min_indoor": 4}}, by=QUALITY, said=LATER
    )
    story.calendar("carrier", "America/Chicago", carrier="other-freight")
    firm = state(story)
    assert before.policy == Policy()
    assert (firm.policy.min_indoor, firm.policy.outdoor_gap_min, firm.policy_n) == (4, 120, n + 1)
    assert set(firm.calendars) == {"office", "carrier/acorn-freight", "carrier/other-freight"}
    assert firm.calendars["carrier/other-freight"].zone == "America/Chicago"


def test_a_laboratory_that_has_only_said_its_hours_takes_samples_in() -> None:
    """Its founder alone entered the dock's hours, and the firm that ships is told that nobody did."""
    story = Story()
    assert not state(story).receives
    story.calendar("office", "America/New_York", org=FIRM)
    assert not state(story).receives
    story.calendar("lab", "America/New_York", org=FIRM)
    assert state(story).receives


def test_a_calendar_that_cannot_be_used_stops_nothing() -> None:
    """One bad statement in the chain would make every key of the firm unreadable for ever."""
    story = Story()
    story.policy(min_indoor=4)
    ignored = [
        story.calendar("office", "Nowhere/Town").n,
        story.calendar("office", "America/New_York", hours={"mon": ["17:00-08:00"]}).n,
    ]
    enroll(story, NEWCOMER, by=ROOT)
    firm = state(story)
    assert firm.ignored == tuple(ignored)
    assert firm.policy.min_indoor == 4
    assert firm.calendars["office"].to_data()["hours"] == WEEK
    assert NEWCOMER.kid in firm.keys


def test_state_can_be_continued_entry_by_entry() -> None:
    """The ledger that reads only what is new would come to another answer than one that reads all."""
    story = Story()
    enroll(story, ADMIN, by=ROOT)
    enroll(story, NEWCOMER, by=INSPECTOR)
    revoke(story, INSPECTOR, by=ADMIN)
    story.calendar("office", "Nowhere/Town")
    chain = story.chains[f"org/{FIRM}"]
    for cut in range(1, len(chain)):
        continued = organizations.fold(chain[:cut])
        for entry in chain[cut:]:
            continued = organizations.apply(continued, entry)
        assert continued == organizations.fold(chain)


def test_equipment_training_and_licensing_from_then_on() -> None:
    """A meter back from calibration, a trained sampler or a new state law would not be known."""
    story = Story()
    chain = f"org/{FIRM}"
    assert organizations.fold(story.chains[chain][:1]).licensing is None  # nobody has said anything about it
    for certified in ("2026-01-10", "2026-11-20"):
        meter = {"kind": "meter", "id": "METER-9", "certified": certified}
        story.add(chain, "equipment_set", meter, by=QUALITY, said=LATER)
    story.add(chain, "trained", {"kid": INSPECTOR.kid, "on": "2026-01-12"}, by=QUALITY, said=LATER)
    story.add(chain, "licensing_set", {"jurisdictions": ["US-TX"]}, by=ROOT, said=LATER)
    firm = state(story)
    for day, counted in (("2026-01-09", None), ("2026-01-10", "2026-01-10"), ("2026-11-20", "2026-11-20")):
        found = firm.certificate("meter", "METER-9", date.fromisoformat(day))
        assert (str(found.certified) if found else None) == counted
    assert firm.certificate("pump", "METER-9", date(2026, 12, 1)) is None
    trained = firm.trained(INSPECTOR.kid, date(2026, 1, 12))
    assert trained is not None
    assert str(trained.on) == "2026-01-12"
    earlier = firm.trained(INSPECTOR.kid, date(2026, 1, 11))
    assert earlier is not None
    assert str(earlier.on) == "2025-03-03"
    assert firm.trained(CLERK.kid, date(2026, 1, 12)) is None
    assert firm.licensing == {"US-TX"}
    assert firm.ignored == ()


def test_nobody_trains_himself_or_a_key_that_is_not_there() -> None:
    """An inspector could put his own name on the list of trained people."""
    story = Story()
    chain = f"org/{FIRM}"
    said = {"kid": INSPECTOR.kid, "on": "2026-01-12"}
    ignored = (
        story.add(chain, "trained", said, by=INSPECTOR, said=LATER).n,
        story.add(chain, "trained", {**said, "kid": NEWCOMER.kid}, by=QUALITY, said=LATER).n,
        story.add(chain, "licensing_set", {"jurisdictions": []}, by=CLERK, said=LATER).n,
    )
    firm = state(story)
    assert NEWCOMER.kid not in firm.training
    assert firm.ignored == ignored
