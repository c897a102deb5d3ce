"""Everything the program answers, a file of plain text each, so that `diff -r` shows what a change changes.

    sh demo/run --no-serve                                        # the older version makes the ledger
    .venv/bin/python tests/house/answers.py OUT --ledger FOLDER   # by default the ledger in demo/out

Asked are: every GET of the OpenAPI document and the pages, by each person of the demonstration and by nobody;
the commands that read; the offline verifier about every auditor's file; and what the rules find on a tidy
visit and in the hard scenarios. Read is a copy of the ledger, an hour after its last entry, so that one
version writes the same each time. To a version that lacks them, lend `answers.py`, `asked.py`, `found.py`.
"""

from __future__ import annotations

import argparse
import hashlib
import html
import itertools
import json
import os
import re
import shlex
import shutil
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

import click
import found
import httpx2
import pypdfium2
from asked import PAGES, PAGES_OF_A_PERSON, VERBS, VERBS_OF_ANYBODY, questions
from click.testing import CliRunner

from bailee import guides
from bailee.app import create_app
from bailee.config import load
from bailee.ledger.base64url import unb64u
from bailee.presentation import rule_book
from bailee.signing import access, signed_statement
from bailee.store import log
from bailee_cli.device import profile as profiles
from bailee_cli.device.session import Session
from bailee_cli.main import bailee

ROOT: Final = Path(__file__).resolve().parents[2]
sys.path.append(str(ROOT / "demo"))

import ground  # noqa: E402 - the modules of the demonstration lie beside its start

LATER: Final = timedelta(hours=1)
NOBODY: Final = "nobody"
PLACES: Final = """\
visit_h = 2
places = [{name = "basement", musty_odor = true, hours_a_day = 2}, {name = "living room", hours_a_day = 5}]
"""
_OF_A_REQUEST: Final = re.compile(r'("request": ")[0-9a-f]{12}(?=")')
LETTERS: Final = {"sample": "S", "envelope": "E", "form": "F", "lot": "M"}


class Corpus:
    """The folder of answers; the ledger, its clock, its people and all numbers in it."""

    def __init__(self, out: Path, ledger: Path) -> None:
        self.out, self.count, self.ledger = out, 0, ledger
        self.now = datetime.now(UTC)
        settings = replace(load(ledger / "ledger"), requests_per_key=0, requests_per_address=0)
        self.app = create_app(settings, lambda: self.now)
        with self.app.extensions["ledger"].database.reading() as connection:
            entries = [json.loads(each) for each in log.texts(connection, 0, 100_000)]
        self.now = max(datetime.fromisoformat(each["rec"]) for each in entries) + LATER
        homes = {name: ledger / "people" / name for name in profiles.people(ledger / "people")}
        known = {name: profiles.load(home) for name, home in homes.items()}
        self.orgs = {name: who.org for name, who in known.items() if who.origin == settings.origin}
        self.keys = {name: profiles.open_key(homes[name], str) for name in self.orgs}
        self.origin, self.numbers = settings.origin, self._numbers(entries)

    def _numbers(self, entries: Sequence[Mapping[str, Any]]) -> dict[str, list[str]]:
        """By its name in an address, everything there is in the ledger."""
        said = b"\n".join(unb64u(each["stmt"].split(".")[1]) for each in entries).decode()
        tiles = self.ledger / "ledger" / "tiles" / "tile"
        hashes = [each.relative_to(tiles).parts for each in tiles.rglob("*") if each.is_file()]
        return {
            **{kind: sorted(set(re.findall(rf'"({one}[0-9A-Z]{{10}}[0-9A-Z*])"', said)))
               for kind, one in LETTERS.items()},
            "org": sorted(set(self.orgs.values())),
            "kid": sorted(each.kid for each in self.keys.values()),
            "statement": [signed_statement.digest(each["stmt"]) for each in entries],
            "index": [str(place) for place in range(len(entries))],
            "level": sorted({level for level, *_ in hashes}),
            "tile": sorted({"/".join(rest) for _, *rest in hashes}),
            "size": [str(len(entries))],
            "day": [f"{self.now:%Y-%m-%d}"],
            "at": [entries[2 * len(entries) // 3]["rec"]],
            "code": sorted(rule_book.book()),
            "guide": [each.name for each in guides.every()],
        }  # fmt: skip

    def filled(self, asked: str) -> Iterator[str]:
        """The same once with each number there is, in the place of its name."""
        names = list(dict.fromkeys(re.findall(r"\{(\w+)\}", asked)))
        for values in itertools.product(*(self.numbers[name] for name in names)):
            yield asked.format(**dict(zip(names, values, strict=True)))

    def write(self, place: str, name: str, text: str) -> None:
        """One answer."""
        file = self.out / place / f"{name.strip('/').replace('/', '_') or 'home'}.txt"
        file.parent.mkdir(parents=True, exist_ok=True)
        with file.open("x", encoding="utf-8") as new:  # never two answers under one name
            new.write(_OF_A_REQUEST.sub(r"\1(a number)", text.rstrip("\n")) + "\n")
        self.count += 1

    def http(self) -> None:
        """Every GET of the OpenAPI document; what is public is asked by nobody alone."""
        for question, is_public in questions(self.app.test_client().get("/openapi.json").get_json()):
            for call in self.filled(question):
                for who in (NOBODY, *(() if is_public else self.keys)):
                    bearer = "" if who == NOBODY else f"Bearer {self._token(access.issue, who)}"
                    asking = {"Authorization": bearer} if bearer else {}
                    self._got(f"http/{who}", call, self.app.test_client().get(call, headers=asking))

    def pages(self) -> None:
        """The words of the pages."""
        for who in (NOBODY, *self.keys):
            browser = self.app.test_client()
            if who != NOBODY:
                browser.post("/session", json={"token": self._token(access.issue_for_pages, who)})
            for page in PAGES if who == NOBODY else PAGES_OF_A_PERSON:
                for call in self.filled(page):
                    self._got(f"pages/{who}", call, browser.get(call))

    def _token(self, issue: Callable[..., str], who: str) -> str:
        return issue(self.keys[who], self.orgs[who], self.origin, int(self.now.timestamp()))

    def _got(self, place: str, call: str, answer: Any) -> None:
        self.write(place, call, f"{answer.status_code} {answer.content_type}\n{plain(answer.data)}")

    def terminal(self) -> None:
        """What each person reads on a screen and a program as JSON, and the files that are written."""
        for who in self.keys:
            for verb in (*VERBS, *(VERBS_OF_ANYBODY if who == min(self.keys) else ())):
                for words in self.filled(verb):
                    file = Path(re.sub(r"\W+", "-", f"{who} {words}"))
                    typed = f"--as {who} {words.replace('FILE', str(file))}"
                    self._typed(f"terminal/{who}", words, typed)
                    if file.exists():
                        self.write(f"terminal/{who}", f"{words} (file)", plain(file.read_bytes()))
                    elif "FILE" not in words:
                        self._typed(f"terminal/{who}", f"{words} (json)", f"--json {typed}")

    def auditor(self) -> None:
        """The verifier about each file that a person got, and those of the demonstration."""
        roots = " ".join(f"--root {self.orgs[who]}={self.keys[who].kid}" for who in ("office", "lab"))
        for file in sorted([*Path().glob("*-bundle-*-o-FILE"), *self.ledger.glob("*-visit*.json")]):
            typed = f"verify {file} {roots} --policy {self.ledger / 'log-policy.txt'}"
            self._typed("auditor", file.name, typed)
            self._typed("auditor", f"{file.name} (json)", f"--json {typed}")

    def _typed(self, place: str, name: str, line: str) -> None:
        session = Session(
            home=self.ledger / "people", transport=httpx2.WSGITransport(app=self.app), clock=lambda: self.now
        )
        done = CliRunner().invoke(bailee, shlex.split(line), obj=session, env={"COLUMNS": "98"})
        if done.exception and not isinstance(done.exception, SystemExit):
            raise done.exception
        said = click.unstyle(done.output).replace(str(Path.cwd()), "(here)")
        self.write(place, name, f"$ bailee {line}\n{said}exit code {done.exit_code}")


def plain(content: bytes) -> str:
    """Any content as lines of text: of a page and a paper its words, of a picture its digest."""
    if content.startswith(b"%PDF"):
        return "\n".join(each.get_textpage().get_text_bounded() for each in pypdfium2.PdfDocument(content))
    try:
        text = content.decode()
    except UnicodeDecodeError:
        return f"{len(content)} bytes, SHA-256 {hashlib.sha256(content).hexdigest()}"
    if text.startswith("<!doctype html"):
        lines = (" ".join(html.unescape(each).split()) for each in re.split(r"<[^<>]*>", text))
        return "\n".join(filter(None, lines))
    try:
        return json.dumps(json.loads(text), indent=1, ensure_ascii=False)
    except ValueError:
        return text


def main() -> None:
    """See above."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("out", type=Path, help="a folder that is not there yet")
    parser.add_argument("--ledger", type=Path, default=ROOT / "demo" / "out", help="what `demo/run` made")
    asked = parser.parse_args()
    if asked.out.exists() or not (asked.ledger / ground.MARKER).is_file():
        parser.error(
            f"{asked.out} must not be there, and {asked.ledger} must be of `sh demo/run --no-serve`."
        )
    out = asked.out.resolve()
    with TemporaryDirectory() as folder, ground.surroundings("America/New_York"):
        shutil.copytree(asked.ledger, Path(folder) / "demo")
        os.chdir(folder)
        Path("places.toml").write_text(PLACES, "utf-8")
        corpus = Corpus(out, Path("demo"))
        for part in (corpus.http, corpus.pages, corpus.terminal, corpus.auditor):
            part()
        for name, text in found.everywhere():
            corpus.write("visits", name, text)
        os.chdir(ROOT)
    sys.stdout.write(f"{corpus.count} answers in {out}\n")


if __name__ == "__main__":
    main()
