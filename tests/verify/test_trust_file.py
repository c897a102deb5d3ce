"""The file in which an auditor writes down whom to trust."""

from __future__ import annotations

import pytest

from bailee.errors import Malformed
from bailee.ledger.checkpoint import format_vkey
from bailee.signing import notes
from bailee.verify import policy
from bailee.verify.trust import brought
from spoiling import cosigner as key
from spoiling import cosigner_vkey as public

LOG = format_vkey(notes.verifier_key("ledger.example/x", key("log")))
GOOD = f"""
# what we trust since 2026
log {LOG}

cosigner lab {format_vkey(public("lab"))}
cosigner   notary	{format_vkey(public("notary"))}
quorum 2
"""


def test_a_policy_file_says_whom_the_auditor_trusts() -> None:
    """If the file is read differently than it is written, the wrong people are believed."""
    found = policy.read(GOOD)
    assert [each.name for each in found.log_keys] == ["ledger.example/x"]
    assert found.cosigners == {"lab": public("lab"), "notary": public("notary")}
    assert found.quorum == 2
    assert policy.read(f"log {LOG}\r\n").quorum == 0


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("quorum 2", "quorum 3"), "larger"),
        (("quorum 2", ""), "how many"),
        (("quorum 2", "quorum -1"), "Line 7"),
        (("quorum 2", "quorum 2\nquorum 1"), "Line 8"),
        (("cosigner   notary", "cosigner lab"), "Line 6"),
        (("cosigner   notary", "witness notary"), "Line 6"),
        ((f"log {LOG}", ""), "no `log` line"),
        ((f"log {LOG}", f"log {format_vkey(public('lab'))}"), "not the key of a log"),
        ((format_vkey(public("notary")), LOG), "not the key of a cosigner"),
        (
            (format_vkey(public("notary")), format_vkey(notes.cosigner_key("twin.example", key("lab")))),
            "one key",
        ),
        ((LOG[-4:], "AAA="), "verifier key"),
    ],
)
def test_a_policy_that_could_be_misread_is_refused(change: tuple[str, str], says: str) -> None:
    """A slip in this file would lower the bar without anybody noticing."""
    with pytest.raises(Malformed, match=says):
        policy.read(GOOD.replace(*change, 1))


@pytest.mark.parametrize(
    ("change", "line"),
    [
        (("quorum 2", "quorum two"), 7),
        (("quorum 2", "quorum 2 3"), 7),
        ((f"log {LOG}", f"log {format_vkey(public('lab'))}"), 3),
        ((format_vkey(public("notary")), LOG), 6),
        (("quorum 2", "quorum 3"), None),
        ((f"log {LOG}", ""), None),
    ],
)
def test_a_policy_that_is_refused_names_its_line(change: tuple[str, str], line: int | None) -> None:
    """An auditor with twenty lines would have to guess which of them is wrong."""
    with pytest.raises(Malformed) as caught:
        policy.read(GOOD.replace(*change, 1))
    assert (caught.value.code, caught.value.facts["line"]) == ("policy", line)
    assert caught.value.sentence.startswith(f"Line {line} of the policy" if line else "The policy cannot")


@pytest.mark.parametrize("root", ["a=" + "A" * 43, "a" + "-" * 31 + "=" + "_" * 43])
def test_a_root_is_brought_as_it_is_typed(root: str) -> None:
    """The organisation would be believed with the root of another."""
    org, _, key = root.partition("=")
    assert brought([root], [LOG], None).roots == {org: key}


@pytest.mark.parametrize(
    "root",
    [
        "", "a", "=" + "A" * 43, "a=" + "A" * 42, "a=" + "A" * 44, "-a=" + "A" * 43, "a" * 33 + "=" + "A" * 43,
        "A=" + "A" * 43, "a=" + "A" * 42 + "+", "a=" + "A" * 43 + "\n",
    ],
)  # fmt: skip
def test_what_is_no_root_is_refused(root: str) -> None:
    """A slip of the pen would be a root that nobody has, and every organisation a false one."""
    with pytest.raises(Malformed) as caught:
        brought([root], [LOG], None)
    assert caught.value.code == "bad-root"


def test_everything_an_auditor_brings_arrives() -> None:
    """Stamps would be checked with no root, or cosigners counted against no quorum, though the auditor brought both."""
    trust = brought(["a=" + "A" * 43], [LOG], GOOD, iter([b"one", b"two"]))
    assert trust.roots == {"a": "A" * 43}
    assert trust.stamp_roots == (b"one", b"two")
    assert (set(trust.cosigners), trust.quorum) == ({"lab", "notary"}, 2)
    assert brought([], [LOG], None).stamp_roots == ()


def test_without_a_key_of_the_log_nothing_is_asked() -> None:
    """The report would speak about a log that anybody could have made."""
    with pytest.raises(Malformed) as caught:
        brought([], [], None)
    assert caught.value.code == "no-log-key"
    assert [key.name for key in brought([], [LOG], f"log {LOG}").log_keys] == ["ledger.example/x"] * 2


def test_a_policy_of_the_greatest_length_is_read_to_its_end() -> None:
    """The last line of a long file would be forgotten."""
    text = "# a remark\n" * (policy.MAX_LINES - 1) + f"log {LOG}\n"
    assert len(policy.read(text).log_keys) == 1


def test_a_longer_policy_is_refused_and_never_cut() -> None:
    """Cosigners and quorum below the last line read would be forgotten, and nobody asked for them."""
    cosigners = f"cosigner lab {format_vkey(public('lab'))}\nquorum 1\n"
    with pytest.raises(Malformed):
        policy.read(f"log {LOG}\n" + "# a remark\n" * policy.MAX_LINES + cosigners)
