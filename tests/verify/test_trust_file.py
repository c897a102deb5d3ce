"""The file in which an auditor writes down whom to trust."""

from __future__ import annotations

from hashlib import sha256

import pytest

from bailee.errors import Malformed
from bailee.ledger import fingerprint
from bailee.ledger.base64url import b64u
from bailee.ledger.checkpoint import KeyType, VerifierKey, format_vkey
from bailee.signing import notes, vkeys
from bailee.verify import trust as policy
from bailee.verify.trust import brought
from spoiling import cosigner as key
from spoiling import cosigner_vkey as public

LOG_KEY = notes.verifier_key("ledger.example/x", key("log"))
LOG = format_vkey(LOG_KEY)
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
        (
            (
                format_vkey(public("notary")),
                format_vkey(VerifierKey("self.example", KeyType.COSIGNATURE_V1, LOG_KEY.public)),
            ),
            "the log's own key",
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


@pytest.mark.parametrize("root", ["a=" + "A" * 43, "a" + "-" * 31 + "=" + "_" * 42 + "8"])
def test_a_root_is_brought_as_it_is_typed(root: str) -> None:
    """The organization would be believed with the root of another."""
    org, _, key = root.partition("=")
    assert brought([root], [LOG], None).roots == {org: key}


@pytest.mark.parametrize(
    "root",
    [
        "",
        "a",
        "=" + "A" * 43,
        "a=" + "A" * 42,
        "a=" + "A" * 44,
        "-a=" + "A" * 43,
        "a" * 33 + "=" + "A" * 43,
        "A=" + "A" * 43,
        "a=" + "A" * 42 + "+",
        "a=" + "A" * 42 + "B",
    ],
)
def test_what_is_no_root_is_refused(root: str) -> None:
    """A slip of the pen would be a root that nobody has, and every organization a false one."""
    with pytest.raises(Malformed) as caught:
        brought([root], [LOG], None)
    assert caught.value.code == "bad-root"


LINES = "\n".join(fingerprint.lines(bytes(range(32))))
NAME = b64u(bytes(range(32)))
LOG_LINES = "\n".join(vkeys.lines(LOG_KEY))


@pytest.mark.parametrize("between", ["\n", " ", ""])
def test_a_key_is_brought_in_five_lines_as_well(between: str) -> None:
    """What is printed to be typed could not be typed."""
    typed = LINES.replace("\n", between)
    log = f"ledger.example/x={between}{LOG_LINES}".replace("\n", between)
    trust = brought([f"lab={typed}"], [log], None)
    assert (trust.roots, trust.log_keys) == ({"lab": NAME}, (LOG_KEY,))
    in_one_line = " ".join(log.split())
    cosigned = f"cosigner lab lab.example={' '.join(vkeys.lines(public('lab')))}"
    told = policy.read(f"log {in_one_line}\n{cosigned}\nquorum 1")
    assert told.log_keys == (LOG_KEY,)
    assert told.cosigners["lab"].public == public("lab").public
    assert told.cosigners["lab"].type is public("lab").type


def test_keys_that_were_typed_below_each_other_are_told_apart() -> None:
    """In the field of the page the lines of one key would be taken for keys of their own, or two keys for
    one.
    """
    tail = next(key for key in map(_numbered, range(10_000)) if fingerprint.lines(key)[2].endswith("="))
    compact = "\n".join(line.replace(" ", "") for line in fingerprint.lines(tail))
    text = f"firm={NAME}\n\nlab=\n{LINES}\n  third={compact}\nlast={NAME}\n"
    trust = brought([text], [f"{LOG}\nledger.example/x={LOG_LINES}"], None)
    assert trust.roots == {"firm": NAME, "lab": NAME, "third": b64u(tail), "last": NAME}
    assert trust.log_keys == (LOG_KEY, LOG_KEY)


def _numbered(number: int) -> bytes:
    return sha256(str(number).encode()).digest()


def test_a_wrong_line_of_a_typed_key_is_named() -> None:
    """A slip would be told as the forgery of a whole file, or somebody would compare 52 characters to find
    one.
    """
    first, second, third, *rest = LINES.split("\n")
    other = "A" if third[2] != "A" else "B"
    wrong = "\n".join([first, second, f"3 {other}{third[3:]}", *rest])
    with pytest.raises(Malformed) as caught:
        brought([f"lab={wrong}"], [LOG], None)
    assert (caught.value.code, caught.value.facts["line"]) == ("key-line", 3)
    assert caught.value.sentence.startswith("lab: Line 3 of the five lines of the key")
    with pytest.raises(Malformed) as caught:
        brought([f"lab={LINES}"], [f"ledger.example/x={wrong}"], None)
    assert (caught.value.code, caught.value.facts["line"]) == ("key-line", 3)
    with pytest.raises(Malformed) as caught:
        policy.read(f"# a remark\nlog ledger.example/x={' '.join(wrong.split())}")
    assert (caught.value.code, caught.value.facts["line"]) == ("policy", 2)
    assert "Line 2 of the policy" in caught.value.sentence
    assert "Line 3 of the five lines" in caught.value.sentence


def test_everything_an_auditor_brings_arrives() -> None:
    """Stamps would be checked with no root, or cosigners counted against no quorum, though the auditor
    brought both.
    """
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
