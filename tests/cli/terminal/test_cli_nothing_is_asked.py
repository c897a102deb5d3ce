"""Without a terminal nothing is ever asked: a command that lacks something names it in one sentence and ends
with 2 (README, "Exit codes"; our own promise, no outside source).
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from bailee_cli.main import VERBS, bailee
from town import ENVELOPE, INTACT, SEAL, Town

_LONG = ("serve",)
"""What goes on until it is stopped."""


def commands() -> Iterator[tuple[str, ...]]:
    """Every command, and every one of a group."""
    context = click.Context(bailee)
    for verb in (each for verbs in VERBS.values() for each in verbs if each not in _LONG):
        command = bailee.get_command(context, verb)
        if isinstance(command, click.Group):
            yield from ((verb, each) for each in command.list_commands(context))
        else:
            yield (verb,)


def test_every_command_without_its_options_says_what_it_lacks(
    settled: Town, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If this fails, a nightly job waits for an answer, or ends with "Aborted!" and nobody knows of what."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BAILEE_HOME", str(tmp_path / "none"))
    for words in commands():
        result = settled.person("inspector").type(*words)
        assert "Aborted" not in result.output, words
        assert result.exception is None or isinstance(result.exception, SystemExit), words
        assert not result.stderr.rstrip().endswith((":", "]")), (words, result.stderr)


@pytest.mark.parametrize(
    ("words", "option"),
    [
        (("seal",), "--counted"),
        (("seal", "--counted", "2"), "--seal"),
        (("seal", "--counted", "2", "--seal", "C-1"), "--across-opening"),
        (("seal", "--counted", "2", "--seal", "C-1", "--across-opening"), "--record-enclosed"),
    ],
)
def test_an_envelope_begun_asks_nothing_in_a_script(
    visited: tuple[Town, list[str]], words: tuple[str, ...], option: str
) -> None:
    """If this fails, `bailee seal </dev/null` asks a question that nobody hears, and ends with 1."""
    town, samples = visited
    clerk = town.person("clerk")
    clerk.run("seal", "--envelope", ENVELOPE, typed=f"{samples[0]}\n{samples[1]}\n\n", code=2)
    before = len(clerk.outbox())
    said = clerk.run(*words, code=2)
    assert f"{option} is missing: " in said
    assert "2 scanned" in said
    assert not any(asked in said for asked in ("scan:", "hand:", "seal:", "opening?:", "envelope?:")), said
    assert len(clerk.outbox()) == before


def test_what_is_left_out_of_an_envelope_s_way_is_named(visited: tuple[Town, list[str]]) -> None:
    """If this fails, a script that forgot the carrier reads "Aborted!", and the envelope lies there."""
    town, samples = visited
    clerk, worker = town.person("clerk"), town.person("dock")
    clerk.run("seal", *samples[:3], "--counted", "3", "--envelope", ENVELOPE, *SEAL)
    assert "--carrier is missing: " in clerk.run("ship", ENVELOPE, code=2)
    assert "--service is missing: " in clerk.run("ship", ENVELOPE, "--carrier", "acorn-freight", code=2)
    told = clerk.answer("ship", ENVELOPE, code=2)
    assert told == {"code": "usage", "detail": "--carrier is missing: carrier, or who carries it."}
    way = ("ship", ENVELOPE, "--carrier", "acorn-freight", "--service", "next day", "--tracking", "AF-1")
    assert "--yes is missing: " in clerk.run(*way, code=2)
    assert "--seal is missing: " in clerk.run("unseal", ENVELOPE, "--reason", "add_sample", code=2)
    clerk.run(*way, "--yes")
    for words, option in (
        (("receive", ENVELOPE), "--package"),
        (("receive", ENVELOPE, "--package", "sound"), "--seal"),
        (("receive", ENVELOPE, "--package", "sound", "--seal", "C-4711"), "--seal-state"),
        (("receive", ENVELOPE, *samples[:3], *INTACT, "--package", "sound"), "--record-enclosed"),
        (("take-in", ENVELOPE), "--seal-state"),
        (("take-in", ENVELOPE, "--seal-state", "intact"), "--package"),
    ):
        assert f"{option} is missing" in worker.run(*words, code=2), words
    assert worker.outbox() == []


def test_a_passphrase_that_nobody_can_type_is_named(settled: Town) -> None:
    """If this fails, whoever sets up a device by a script reads "Aborted" and makes a key without one."""
    person = settled.person("new-device")
    assert "BAILEE_PASSPHRASE" in person.run("key", "new", "--passphrase", code=2)
    assert not (person.folder / "key.pem").exists()
