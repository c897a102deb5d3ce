"""What goes into the page, and what stands in for the library of signatures there; without a browser."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest
from click.testing import CliRunner
from opened_page import ROOT

from bailee.domain.numbers import grouped
from bailee.ledger.checkpoint import format_vkey
from bailee.verify import report_text
from bailee.verify.disclaimer import LIMITS
from bailee.verify.page import report_page
from bailee.verify.page.signatures import Answers
from bailee.verify.result import Report
from bailee.verify.verifier import verify
from bailee_cli.main import bailee
from bailee_cli.people.auditor_page import assemble
from log_simulator import AT, LogSimulator, told

TRIPLE = (b"key", b"signature", b"message")


def words(html: str) -> str:
    """What a reader sees of a fragment, in one line."""
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", " ", html)))


def sentences(found: Report) -> set[str]:
    """Everything that the report in plain text says, without its marks and headings."""
    said = {str(fault.place) for fault in found.faults} | {fault.sentence for fault in found.faults}
    said |= {str(each.place) for each in found.remarks} | {each.sentence for each in found.remarks}
    said |= {verdict.sentence for verdict in found.verdicts} | {each.sentence for each in found.not_checked}
    said |= {each for verdict in found.verdicts for each in verdict.not_checked}
    said |= {each.sentence for each in found.findings} | {each.rule for each in found.findings}
    said |= {line for sample in found.samples for line in report_text.drawn(sample)}
    said |= {grouped(sample.number) for sample in found.samples}
    said |= {
        line.strip()
        for sample in found.samples
        for each in sample.holders
        for line in report_text.held(sample, each)
    }
    said |= {report_text.entry(line) for line in found.entries} | {
        report_text.signer(each) for each in found.signers
    }
    said |= {report_text.endorsement(each) for each in found.endorsements}
    said |= {report_text.stamped(each) for each in found.stamps} | {each.sentence for each in LIMITS}
    return said | {
        report_text.looked_at(found),
        report_text.records(found),
        f"exported {found.claims['exported']}",
    }


def hasty() -> LogSimulator:
    """A visit with findings, and a key that was revoked."""
    log = told("held")
    log.received(log.samples)
    return log


@pytest.mark.parametrize("log", [told(), told("opened"), hasty()])
@pytest.mark.parametrize("gone", [None, 1, 2])
def test_the_page_says_everything_the_command_line_says(log: LogSimulator, gone: int | None) -> None:
    """A finding would be printed for one reader and missing for the other."""
    sound = log.bundle()
    kept = tuple(each for each in sound.entries if gone is None or f'"n":{gone},' not in each.text)
    found = verify(replace(sound, entries=kept), log.trust(), AT)
    shown = words(report_page.render(found))
    assert [each for each in sentences(found) if re.sub(r"\s+", " ", each) not in shown] == []


def test_a_broken_chain_of_custody_is_first_though_no_record_was_altered() -> None:
    """*Unaltered* in calm letters stands over a custody that nobody can show."""
    log = hasty()
    found = verify(log.bundle(), log.trust(), AT)
    html = report_page.render(found)
    shown = words(html)
    assert shown.index("BREAK IN CUSTODY. Found by CU-01") < shown.index("Records: unaltered")
    assert 'class="alarm" role="alert"' in html
    assert '<details class="sample" open>' in html, "who held what is unfolded where it is in doubt"
    log = told()
    assert "alarm" not in report_page.render(verify(log.bundle(), log.trust(), AT))


def test_nothing_of_the_file_becomes_markup() -> None:
    """A client's name could carry a script, or a picture that tells somebody who is being audited."""
    log = told("opened")
    found = verify(log.bundle(), log.trust(), AT)
    assert found.visit is not None
    evil = "<img src=x onerror=alert(1)>&\u202e"
    spoilt = replace(
        found,
        origin=evil,
        visit=replace(found.visit, zone=evil, told={evil: evil}),
        signers=tuple(replace(each, person=evil) for each in found.signers),
        claims={"exported": evil, "roots": {evil: evil}},
    )
    html = report_page.render(spoilt)
    assert "<img" not in html
    assert "\u202e" not in html
    assert html.count("&lt;img src=x onerror=alert(1)&gt;&amp;\ufffd") >= 6


def test_no_tick_and_no_promise() -> None:
    """One green mark, and nobody reads what was not checked."""
    log = told()
    html = report_page.render(verify(log.bundle(), log.trust(), AT))
    assert not re.search(r"passed|verified|authentic|valid\b|[\u2713\u2714\u2705]", html, re.IGNORECASE)


def test_an_unknown_signature_is_refused_and_asked_about() -> None:
    """A signature that no browser has checked would count as genuine."""
    answers = Answers()
    answers.begin(supposing=False)
    assert not answers.fits(TRIPLE)
    assert list(answers.unknown) == [TRIPLE]
    answers.begin(supposing=True)
    assert answers.fits(TRIPLE)
    assert list(answers.unknown) == [TRIPLE]  # so nothing of this run may be shown


@pytest.mark.parametrize(("said", "fits"), [(True, True), (False, False), (1, False), ("true", False)])
def test_only_a_plain_yes_counts(said: object, fits: bool) -> None:
    """Anything that a browser might answer by mistake would pass for a yes."""
    answers = Answers()
    answers.learn([(TRIPLE, said)])  # type: ignore[list-item]
    for supposing in (True, False):
        answers.begin(supposing=supposing)
        assert answers.fits(TRIPLE) is fits
        assert not answers.unknown


ASKING = """
import json, sys
sys.path[:0] = json.loads(sys.argv[1])
from bailee.verify.page import signatures
signatures.stand_in()
from bailee.errors import Forged
from bailee.signing import keys
# The base point, RFC 8032 5.1: a weak key is refused before anybody is asked.
STRONG = bytes([0x58]) + bytes([0x66]) * 31
def judged(fits):
    signatures.ANSWERS.begin(supposing=False)
    signatures.ANSWERS.learn([((STRONG, bytes(64), b"m"), fits)] if fits is not None else [])
    try:
        keys.verify(STRONG, bytes(64), b"m")
    except Forged:
        return False
    return True
print(json.dumps([judged(None), judged(True), judged(False), "_rust" in str(sys.modules["cryptography"])]))
"""


def test_the_stand_in_takes_the_place_of_the_library() -> None:
    """The page would not start, or would believe whatever it is told."""
    done = subprocess.run(
        [sys.executable, "-c", ASKING, json.dumps([str(ROOT / "service")])],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout) == [False, True, False, False]


def test_the_packages_are_those_the_auditor_gets() -> None:
    """The page would judge with another version than the command line."""
    lock = (ROOT / "deploy" / "lock" / "auditor.txt").read_text()
    pinned = re.findall(
        r"^([a-z-]+==[0-9.]+) ", (ROOT / "deploy" / "page" / "wheels.txt").read_text(), re.MULTILINE
    )
    assert [each.partition("==")[0] for each in pinned] == ["tzdata"]
    assert [each for each in pinned if not re.search(rf"^{re.escape(each)}[ ;]", lock, re.MULTILINE)] == []


def test_the_page_sets_nothing_outside_its_own_modules() -> None:
    """An auditor who reads the page would ask for the package that a setting is for, and find none in it."""
    folder = ROOT / "service" / "bailee" / "verify" / "page"
    sources = {each.name: each.read_text("utf-8") for each in folder.iterdir() if each.is_file()}
    assert {"worker.js", "page.js", "judging.py"} <= sources.keys()
    assert [
        name
        for name, text in sources.items()
        if re.search(r"\benv:|\benviron\b|pydantic", text, re.IGNORECASE)
    ] == []


def test_the_lock_names_no_address() -> None:
    """Parts would be fetched from a place that one packager happened to use."""
    for name in ("package.json", "package-lock.json", "wheels.txt"):
        assert "://" not in (ROOT / "deploy" / "page" / name).read_text()


@pytest.mark.slow
def test_the_same_parts_give_the_same_page(parts: Path, file: Path, log: LogSimulator) -> None:
    """Nobody could compare the page that came by mail with the one they made themselves."""
    text = file.read_text()
    roots = [f"{org}={root}" for org, root in log.trust().roots.items()]
    assert assemble(parts, roots, [format_vkey(log.log_vkey)]) == text
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', text)
    assert policy is not None
    assert (
        re.sub(r"sha256-[A-Za-z0-9+/=]+", "…", policy[1])
        == "default-src 'none'; script-src '…' 'wasm-unsafe-eval'; worker-src blob:; style-src '…'; "
        "base-uri 'none'; form-action 'none'"
    )
    assert "://" not in re.sub(r"<script type=\"text/plain\".*?</script>", "", text, flags=re.DOTALL)


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ([], 3, "bring the parts with `sh deploy/page/fetch"),
        (["--root", "nobody"], 2, "is not a root key"),
        (["--log-key", "nothing"], 2, "key"),
    ],
)
def test_what_is_missing_or_mistyped_is_said(tmp_path: Path, words: list[str], code: int, said: str) -> None:
    """A page would be mailed that cannot work, or that shows a key nobody has."""
    target = tmp_path / "verify.html"
    done = CliRunner().invoke(bailee, ["page", "-o", str(target), "--parts", str(tmp_path), *words])
    assert (done.exit_code, target.exists()) == (code, False)
    assert said in done.output


SPOILT = (
    "package.json",
    "pyodide-lock.json",
    "python_stdlib.zip",
    "wheels/tzdata-2026.6-py2.py3-none-any.whl",
)


@pytest.mark.parametrize("name", SPOILT)
def test_no_page_is_made_of_a_part_that_somebody_exchanged(parts: Path, tmp_path: Path, name: str) -> None:
    """A page that judges otherwise would be mailed in good faith, or a spoilt part would end in lines that
    nobody can read.
    """
    folder, target = tmp_path / "parts", tmp_path / "verify.html"
    shutil.copytree(parts, folder)

    def told() -> str:
        done = CliRunner().invoke(bailee, ["page", "-o", str(target), "--parts", str(folder)])
        assert (done.exit_code, target.exists()) == (3, False), done.exception
        return " ".join(done.output.split())

    whole = (folder / name).read_bytes()
    for junk in (b"", b"{}", b"[]", b"null", b"[" * 100_000, b"\xff\x00", whole + b" x"):
        (folder / name).write_bytes(junk)
        assert "is not the part that this version is made with" in told()
    for special in (os.mkfifo, lambda path: path.symlink_to("/dev/zero")):
        (folder / name).unlink()
        special(folder / name)
        assert "is not the part that this version is made with" in told()
