"""What nothing in an auditor's file vouches for: the list in guides/attacks.md, held against what can be
changed without a word of the verifier.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from authority import EC, Authority
from bailee.errors import BaileeError
from bailee.ledger import merkle
from bailee.ledger.checkpoint import Checkpoint
from bailee.signing import timestamp
from bailee.verify import bundle
from bailee.verify.bundle import TimeStampToken
from bailee.verify.result import COSIGNED, Report
from bailee.verify.verifier import Trust, verify
from builders import CLERK
from log_simulator import AT, told
from spoiling import cosigned, cosigners, keep

pytestmark = pytest.mark.slow  # left out between two saves of a file

PAGE = Path(__file__).parents[2] / "service/bailee/guides/attacks.md"
STRANGER = "notary"

Verified = Callable[[Any], Report | None]


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Trust]:
    """A file that has every member there is: two cosigners, of whom the auditor names one, a contradiction, a
    time stamp, a member of later days.
    """
    town = told("opened")
    device = town.device(CLERK)
    seq, prev = device.seq, device.prev
    first = keep(town)
    town.append(f"form/{town.form}", first)
    device.seq, device.prev = seq, prev
    other = keep(town, said="2026-12-02T12:01:00-06:00")
    size = len(town.log)
    text = Checkpoint(town.origin, size, merkle.root(town.tiles, size)).body()
    tsa = Authority(tmp_path_factory.mktemp("tsa") / "tsa", kind=EC)
    stamp = timestamp.token_in(tsa.stamp(timestamp.request(text, 7)))
    whole = replace(
        cosigned(town.bundle(), "lab", STRANGER),
        conflicts=((first, other),),
        tokens=(TimeStampToken(size, stamp),),
    )
    return {**json.loads(bundle.write(whole)), "weather": "fine"}, cosigners(town, 1, "lab")


@pytest.fixture(scope="module")
def unseen(file: tuple[dict[str, Any], Trust]) -> Verified:
    """The report on changed members when nothing is said against them, else None."""

    def judged(members: Any) -> Report | None:
        try:
            found = verify(bundle.read(json.dumps(members)), file[1], AT)
        except BaileeError:
            return None
        return found if found.state == COSIGNED else None

    return judged


def test_readme_lists_everything_that_nobody_vouches_for(
    file: tuple[dict[str, Any], Trust], unseen: Verified
) -> None:
    """An auditor would rest a case on something that the other side typed, or doubt something that was
    signed.
    """
    members, _ = file
    assert unseen(members)
    free = set()
    for path, leaf in leaves(members):
        for line, other in changed(leaf):
            if unseen(put(members, path, other)):
                free.add(path[0])
                assert path[0] != "checkpoint" or STRANGER in line
    strange = next(line for line in members["checkpoint"].split("\n") if STRANGER in line)
    assert unseen({**members, "ends": f"{members['ends']}{strange}\n"})
    assert free | {"ends"} == set(re.findall("`([a-z]+)`", listed())) | {"weather"}


def test_the_report_names_the_same_for_programs(file: tuple[dict[str, Any], Trust], unseen: Verified) -> None:
    """A program of the auditor would show the sender's words as evidence."""
    found = unseen(file[0])
    assert found
    assert found.to_json()["unauthenticated"] == ("/exported", "/roots", "/tokens", "/weather")
    assert set(re.findall("`([a-z]+)`", listed())) - {"checkpoint", "ends"} == {"exported", "roots", "tokens"}


def test_the_guide_says_what_may_be_missing_unseen(
    file: tuple[dict[str, Any], Trust], unseen: Verified
) -> None:
    """Somebody would take a file without contradictions for a form without any."""
    members, _ = file
    left_out = {name for name in members if unseen({each: members[each] for each in members if each != name})}
    after = " ".join(PAGE.read_text("utf-8").partition(listed())[2].split())
    told_ = after.partition(" can also be left out unseen")[0].rpartition(". ")[2]
    assert left_out == set(re.findall("`([a-z]+)`", told_)) | {"weather"}
    assert "lines of cosigners" in told_
    kept = [line for line in members["checkpoint"].split("\n") if STRANGER not in line]
    assert unseen({**members, "checkpoint": "\n".join(kept)})


def test_private_fields_left_out_are_counted(file: tuple[dict[str, Any], Trust], unseen: Verified) -> None:
    """Somebody could hide a note, and the file would look as if there had been none."""
    members, _ = file
    whole = unseen(members)
    assert whole
    assert whole.redacted == 0
    shown = [path for path, _ in leaves(members) if "disclosures" in path]
    assert shown
    for _, entries, _, at in shown:
        there = members["entries"][entries]["disclosures"]
        less = unseen(put(members, ("entries", entries, "disclosures"), [*there[:at], *there[at + 1 :]]))
        assert less
        assert less.redacted == 1


def listed() -> str:
    """The list of what nothing confirms, in guides/attacks.md."""
    found = re.search(
        r"\nNothing confirms some parts of a file.*?\n\n(- .*?)\n\n", PAGE.read_text("utf-8"), re.DOTALL
    )
    assert found
    return found[1]


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    """Every text and number, and where it stands."""
    parts = (
        value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else None
    )
    if parts is None:
        yield path, value
    else:
        for name, part in parts:
            yield from leaves(part, (*path, name))


def changed(leaf: Any) -> Iterator[tuple[str, Any]]:
    """Another number; or each line of a text with one character near its end exchanged for one of its kind,
    and the line that was.
    """
    if isinstance(leaf, int):
        yield "", leaf + 1
        return
    lines = leaf.split("\n")
    for place, line in enumerate(lines):
        at = max(0, len(line) - 5)
        if line:
            kind = "12" if line[at].isdigit() else "AB"
            other = f"{line[:at]}{kind[line[at] == kind[0]]}{line[at + 1 :]}"
            yield line, "\n".join([*lines[:place], other, *lines[place + 1 :]])


def put(value: Any, path: Sequence[Any], part: Any) -> Any:
    """The same with another part at that place."""
    if not path:
        return part
    under = put(value[path[0]], path[1:], part)
    if isinstance(value, dict):
        return {**value, path[0]: under}
    return [*value[: path[0]], under, *value[path[0] + 1 :]]
