"""The recipe of the image, as far as it can be read without building it. Common practice, no source."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Final

DEPLOY: Final = Path(__file__).resolve().parents[2] / "deploy"
RECIPE: Final = (DEPLOY / "image/Containerfile").read_text("utf-8")
STEPS: Final = re.findall(
    r"^([A-Z]+) (.*)$", RECIPE.replace("\\\n", " ").partition("\nFROM ")[2], re.MULTILINE
)


def locked(name: str) -> dict[str, str]:
    """By package: its version and hashes, as one lock has them."""
    text = (DEPLOY / "lock" / name).read_text("utf-8")
    return {each.split("==")[0]: each for each in re.split(r"^(?=\S)", text, flags=re.MULTILINE) if each}


def test_the_image_is_built_with_what_the_tests_are_run_with() -> None:
    """The wheel in the image would be made by whatever version of its builder is newest that day."""
    build, everything = locked("build.txt"), locked("dev.txt")
    assert "hatchling" in build
    assert build.items() <= everything.items()
    for lock in ("build.txt", "server.txt"):
        assert re.search(rf"--require-hashes -r /lock/{lock}", RECIPE)
    for step in re.findall(r"pip (?:install|wheel)[^&\n]*", RECIPE):
        assert "--require-hashes" in step or "--no-index" in step


def test_the_image_names_no_base_of_its_own_and_runs_as_nobody() -> None:
    """An image of somebody else's choice would be under the ledger, and root in it."""
    assert re.search(r"^ARG BASE$", RECIPE, re.MULTILINE)
    assert set(re.findall(r"^FROM (\S+)", RECIPE, re.MULTILINE)) == {"${BASE}"}
    users = [words for step, words in STEPS if step == "USER"]
    assert users == ["10001:10001"]
    assert [step for step, _ in STEPS].index("USER") < [step for step, _ in STEPS].index("CMD")


def test_what_the_image_takes_from_the_checkout_is_there_and_let_through() -> None:
    """The build would stop at a file that was moved, on the operator's machine."""
    let = (DEPLOY / "image/Containerfile.dockerignore").read_text("utf-8").split()
    assert let[0] == "*"  # nothing else of a checkout, a home or a key for instance, gets near it
    taken = [
        word
        for words in re.findall(r"^COPY (?!--from)(.*) \S+$", RECIPE, re.MULTILINE)
        for word in words.split()
    ]
    assert taken
    for each in taken:
        assert (DEPLOY.parent / each).exists()
        assert f"!{each}" in let


def test_the_health_check_asks_whether_it_lives_and_not_whether_it_is_ready() -> None:
    """A service whose database is away would be killed and started for as long as that lasts."""
    (told,) = re.findall(r"CMD (\[.*\])$", dict(STEPS)["HEALTHCHECK"])
    assert "http://127.0.0.1:8765/live" in json.loads(told)[-1]
    assert "LISTEN=0.0.0.0:8765" in dict(STEPS)["ENV"]
