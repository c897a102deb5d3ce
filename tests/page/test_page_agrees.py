"""The page and the command line judge alike: every folder of tests/verify/cases, verdict by verdict and byte
for byte, without a network.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from opened_page import Opened, opened, sentence

from bailee.errors import BaileeError
from bailee.verify import bundle, report_text
from bailee.verify.disclaimer import LIMITS
from bailee.verify.page import report_page
from bailee.verify.result import Report
from bailee_cli.people import auditor_page as packing
from case_folders import FOLDERS, Case, asked, judge, judged_cases
from log_simulator import AT, LogSimulator
from thorough import THOROUGH

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.slow


def here(found: Report | BaileeError) -> dict[str, Any]:
    """What this Python came to, with the real library for signatures."""
    if isinstance(found, BaileeError):
        return {"refused": sentence(found)}
    return {
        "report": found.to_json(),
        "html": report_page.render(found),
        "text": report_text.render_text(found),
    }


def plain(value: Any) -> str:
    """One text for one JSON value."""
    return json.dumps(value, indent=1, sort_keys=True)


def some(folder: str) -> Iterator[tuple[Case, Report | BaileeError]]:
    """One spelling of a fault for each thing that must be found; in the long form all of them."""
    met = set()
    for case, judged in judged_cases(folder):
        promised = plain(dict(case.expected))
        if THOROUGH or promised not in met:
            yield case, judged
        met.add(promised)


@pytest.mark.parametrize("folder", FOLDERS)
def test_the_page_agrees_on_every_bundle(session: Opened, folder: str) -> None:
    """Two parties of one dispute would hold two verdicts on one file, each by a program of ours."""
    for case, judged in some(folder):
        got = session.judge(case.file, dict(case.asked))
        got.pop("count")
        want = json.loads(json.dumps(here(judged)))
        for verdict, ours in zip(_verdicts(got), _verdicts(want), strict=True):
            assert verdict == ours, case.name
        assert plain(got) == plain(want), case.name
        if "report" in got:
            shown = unescape(got["html"])
            assert [each.sentence for each in LIMITS if each.sentence not in shown] == [], case.name
    assert session.complaints == []
    assert [each for each in session.asked_for if not each.startswith(("file:", "blob:null/"))] == []


def _verdicts(answer: dict[str, Any]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = answer.get("report", {}).get("verdicts", [])
    return found


@pytest.mark.parametrize(
    "change",
    [
        {"roots": ["harrow-field"]},
        {"log_keys": ["no key"]},
        {"log_keys": []},
        {"policy": "log nothing"},
        {"at": "yesterday"},
    ],
)
def test_what_is_mistyped_is_refused_alike(
    session: Opened, log: LogSimulator, change: dict[str, Any]
) -> None:
    """A slip of the finger would be judged as if nothing had been brought."""
    given = {**asked(log.trust(), AT), **change}
    file = bundle.write(log.bundle()).encode()
    got = session.judge(file, given)
    assert {"refused": got["refused"]} == here(judge(file, given))


@pytest.mark.parametrize(
    "spoil",
    [
        "crypto.subtle.importKey = () => Promise.reject(new Error());",
        "crypto.subtle.verify = async () => true;",
        "crypto.subtle.verify = async () => false;",
    ],
)
def test_a_browser_that_cannot_check_signatures_judges_nothing(
    browser: Browser, parts: Path, file: Path, tmp_path: Path, log: LogSimulator, spoil: str
) -> None:
    """An old browser would call every signature forged, or a broken one every forgery genuine."""
    worker = packing._packed(spoil.encode() + b"\n" + packing._worker(packing.read_parts(parts)))
    spoilt, sound = tmp_path / "verify.html", tmp_path / "form.json"
    text = re.sub(r'(id="part-worker">)[^<]*', rf"\g<1>{worker}", file.read_text())
    text = re.sub(r'(id="part-py[^"]*">)[^<]*', rf"\g<1>{packing._packed(b'')}", text)  # never read
    spoilt.write_text(text)
    sound.write_text(bundle.write(log.bundle()))
    given = asked(log.trust(), AT)
    context = browser.new_context()
    page = opened(context, spoilt).page
    page.fill("#roots", "\n".join(given["roots"]))
    page.fill("#log-keys", "\n".join(given["log_keys"]))
    page.set_input_files("#file", sound)
    page.click("#go")
    page.wait_for_selector("#sorry:not([hidden])")
    said = page.inner_text("#sorry")
    shown = page.inner_text("#answer")
    context.close()
    assert said.startswith("This browser cannot check Ed25519 signatures, so nothing was judged.")
    assert shown == ""
