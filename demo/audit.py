"""The auditor: a file, no account, no network; and a copy in which somebody changed one figure."""

from __future__ import annotations

import json
import re
import shlex
import shutil
import subprocess
from base64 import urlsafe_b64decode, urlsafe_b64encode
from collections.abc import Iterator, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any, Final, NamedTuple

import click
import two_logs
from cast import Story
from good_visit import Visit
from ground import BAILEE, DemoError
from two_logs import Both

from bailee.domain.numbers import grouped

_NO_NETWORK: Final = ("unshare", "--map-root-user", "--net", "--")
_VERDICTS: Final = ("Records:", "  Custody:", "  Media and sampling:", "  Outdoor comparison:")
_UNSEEN: Final = ("NOT CHECKED", "  Later entries")
_FIGURE: Final = re.compile(rb'("flow_after":"|"run_s":)([0-9.]+)')
COSIGNED: Final = "Records: unaltered, complete and cosigned"


def play(story: Story, both: Both, good: Visit, bad: Visit) -> None:
    """Export, verify, tamper, verify."""
    stage = story.stage
    stage.act("The auditor")
    whole, altered, other = (
        story.out / name for name in ("good-visit.json", "good-visit-altered.json", "bad-visit.json")
    )
    stage.typed(
        "inspector", "bundle", grouped(good.form), "-o", str(whole), silent=True
    )  # the log catches up
    two_logs.show_the_firms(stage, both)
    stage.step(
        "Ines exports the auditor's file of each visit: one file that holds all it takes to check it.",
        "inspector", "bundle", grouped(good.form), "-o", str(whole), shows=["Auditor's file"],
    )  # fmt: skip
    stage.typed("inspector", "bundle", grouped(bad.form), "-o", str(other), shows=["Auditor's file"])
    before = _isolation()
    how = (
        "with no account and no network"
        if before
        else "with no account (the network could not be taken away here)"
    )
    stage.headline(f"An auditor checks it {how}; root keys, log key and cosigner come from letters.")
    _verify(story, whole, before, shows=[*_VERDICTS, *_UNSEEN], says=COSIGNED, code=0)
    stage.headline("The bad visit: no record altered, custody broken, and the file says both.")
    _verify(story, other, before, shows=_VERDICTS, says="break in custody", code=1)
    change = alter(json.loads(whole.read_text()), altered)
    stage.headline(f"In a copy, {change.what}. The place is named.")
    faults = [
        f"  [step {step}] {change.place}" for step in ("3, entries in the log", "6, keys and signatures")
    ]
    _verify(story, altered, before, shows=["Records:", *faults], says="Records: do not verify", code=1)


class Change(NamedTuple):
    """What was changed: the place as the verifier ought to name it, and the figure in plain words."""

    place: str
    what: str


def _one_more(figure: re.Match[bytes]) -> bytes:
    return figure[1] + str(Decimal(figure[2].decode()) + 1).encode()


def _in_words(claimed: bytes) -> str:
    figure = _FIGURE.search(claimed)
    assert figure is not None
    was = figure[2].decode()
    what, unit = ("flow", " L/min") if b"flow" in figure[1] else ("length", " s")
    return f"the {what} of one run was changed from {was} to {Decimal(was) + 1}{unit}"


def alter(told: dict[str, Any], to: Path) -> Change:
    """Write a copy in which one figure of one run is another."""
    for each in told["entries"]:
        entry = json.loads(each["entry"])
        head, payload, signature = entry["stmt"].split(".")
        claimed = urlsafe_b64decode(payload + "=" * (-len(payload) % 4))
        claims = json.loads(claimed)
        text, count = _FIGURE.subn(_one_more, claimed, count=1)
        if claims["act"] == "collected" and count:
            forged = ".".join((head, urlsafe_b64encode(text).decode().rstrip("="), signature))
            each["entry"] = each["entry"].replace(entry["stmt"], forged)
            to.write_text(json.dumps(told))
            return Change(f"{entry['chain']} entry {entry['n']}", _in_words(claimed))
    raise DemoError("The exported file has no collected sample in it.")


def _isolation() -> tuple[str, ...]:
    """The words that take the network away from a process, where this system allows it."""
    if shutil.which("unshare") is None:
        return ()
    tried = subprocess.run([*_NO_NETWORK, "true"], capture_output=True, check=False)
    return _NO_NETWORK if tried.returncode == 0 else ()


def checked(story: Story, file: Path) -> tuple[int, str]:
    """What `bailee verify` says of a file, in a process without a network where this system allows that."""
    words = [*_isolation(), *BAILEE, "verify", str(file), *story.trust]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    return done.returncode, click.unstyle(done.stdout + done.stderr)


def _verify(
    story: Story, file: Path, before: tuple[str, ...], *, shows: Sequence[str], says: str, code: int
) -> None:
    """Verify in a process of its own; show the lines that begin as `shows`, all of which must be there."""
    words = ["verify", str(file), *story.trust]
    typed = [*before, "bailee", *words]
    story.stage.command(typed)
    done = subprocess.run([*before, *BAILEE, *words], capture_output=True, text=True, check=False)
    said = click.unstyle(done.stdout + done.stderr)
    story.stage.keep("auditor", "verify", shlex.join(typed), said)
    lines = list(_told(said, tuple(shows)))
    if done.returncode != code or len(lines) < len(shows) or says not in said:
        raise DemoError(
            f"`{shlex.join(typed)}` ended with {done.returncode} instead of {code}, or did not say"
            f" {says!r}:\n{said}"
        )
    story.stage.screen(lines)


def _told(said: str, shows: tuple[str, ...]) -> Iterator[str]:
    """Lines that begin as wanted, each with the lines it was wrapped into: those stand two further to the
    right.
    """
    whole, rest = "", ""
    for line in said.splitlines():
        carries_on = line.startswith(rest) and not line[len(rest) :].startswith((" ", "not checked: "))
        if whole and not whole.isupper() and carries_on:
            whole += f" {line.strip()}"
            continue
        if whole:
            yield whole
        whole = line if line.startswith(shows) else ""
        rest = " " * (len(line) - len(line.lstrip()) + 2)
    if whole:
        yield whole
