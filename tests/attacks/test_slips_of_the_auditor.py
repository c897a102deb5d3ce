"""What an honest auditor does wrongly: it must not read as a crime of those who signed, and must not read as
a clean file either.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from promises import promised

from bailee.ledger import fingerprint
from bailee.ledger.base64url import unb64u
from bailee.ledger.checkpoint import VerifierKey, format_vkey
from bailee.signing import notes, vkeys
from bailee.verify import bundle, file_limits
from bailee_cli.main import bailee
from log_simulator import AT, LogSimulator, seeded, told


@pytest.fixture(scope="module")
def town() -> LogSimulator:
    """A faultless visit."""
    return told()


def verified(town: LogSimulator, folder: Path, roots: Mapping[str, str], log: str, *more: str) -> Result:
    """What the command says of the sound file, with these words typed."""
    file = folder / "visit.json"
    file.write_text(bundle.write(town.bundle()))
    words = [word for org, root in roots.items() for word in ("--root", f"{org}={root}")]
    return CliRunner().invoke(
        bailee, ["verify", str(file), *words, "--log-key", log, "--at", AT.text(), *more]
    )


def test_a_policy_is_read_with_a_bound(town: LogSimulator, tmp_path: Path) -> None:
    """A device file or a disk image, typed for the policy, would fill the auditor's memory; `/dev/zero`
    without end.
    """
    policy = tmp_path / "policy.txt"
    log = format_vkey(town.log_vkey)
    for length, code in ((file_limits.MAX_BROUGHT - len(log) - 10, 0), (file_limits.MAX_BROUGHT, 2)):
        policy.write_text(f"log {log}\n# {'x' * length}\n")
        done = verified(town, tmp_path, town.trust().roots, log, "--policy", str(policy))
        assert done.exit_code == code, done.output
    assert "is no policy" in done.output


def in_lines(key: bytes) -> str:
    """The key as it is typed."""
    return " ".join(fingerprint.lines(key))


@pytest.mark.slow
def test_one_wrong_letter_never_reads_as_a_crime(town: LogSimulator, tmp_path: Path) -> None:
    """An expert would tell a court that the laboratory's records are forged, for a slip of her own finger."""
    promised("an auditor mistypes a key", "a wrong line of a typed key is named", "nothing is judged")
    sound, log = town.trust().roots, format_vkey(town.log_vkey)
    assert verified(town, tmp_path, sound, log).exit_code == 0
    for org, root in sound.items():
        for at in (0, 20, 41):
            other = "B" if root[at] != "B" else "C"
            done = verified(town, tmp_path, {**sound, org: root[:at] + other + root[at + 1 :]}, log)
            assert done.exit_code == 3
            assert done.output.split("\n")[1] == "Records: not under your keys"
            assert f"character {at + 1} alone: most likely it was mistyped" in " ".join(done.output.split())
            assert "does not match what was signed" not in done.output
        lines = in_lines(unb64u(root))
        assert verified(town, tmp_path, {**sound, org: lines}, log).exit_code == 0
        slip = lines[:22] + ("A" if lines[22] != "A" else "B") + lines[23:]
        done = verified(town, tmp_path, {**sound, org: slip}, log)
        assert (done.exit_code, done.output[: len(org) + 7]) == (2, f"{org}: Line ")
        assert "Line 2 of the five lines" in done.output


@pytest.mark.slow
def test_a_key_of_another_log_is_no_crime_either_and_no_clean_file(
    town: LogSimulator, tmp_path: Path
) -> None:
    """The operator's new key, or another log's, would make a sound file a forged one.

    Or somebody's copy of the log a believed one.
    """
    promised("an auditor mistypes a key", "never called broken for it")
    sound, name = town.trust().roots, town.log_vkey.name
    typed = f"{name}={in_lines(town.log_vkey.public)}"
    assert verified(town, tmp_path, sound, typed).exit_code == 0
    for key in (_key(name), _key("another.example/log")):
        for text in (format_vkey(key), f"{key.name}={' '.join(vkeys.lines(key))}"):
            done = verified(town, tmp_path, sound, text)
            assert done.exit_code == 3
            assert done.output.split("\n")[1] == "Records: not under your keys"
            assert f"This file is of the log {name}" in " ".join(done.output.split())
            assert "Nothing altered or missing was found in" in " ".join(done.output.split())


def _key(name: str) -> VerifierKey:
    return notes.verifier_key(name, seeded("somebody else"))
