"""The page and the command line judge alike: every case of tests/verify, byte for byte, without a network."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from opened_page import Opened, opened, sentence
from recorder import asked

from bailee.domain.moments import Moment
from bailee.errors import BaileeError
from bailee.ledger.base64url import b64u
from bailee.verify import bundle, report
from bailee.verify.page import layout
from bailee.verify.trust import brought
from bailee.verify.verifier import verify
from bailee_cli import page as packing
from log_simulator import AT, LogSimulator

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = [pytest.mark.slow, pytest.mark.timeout(900)]


def here(file: bytes, given: dict[str, Any]) -> dict[str, Any]:
    """What this Python comes to, with the real library for signatures."""
    try:
        trust = brought(given["roots"], given["log_keys"], given["policy"] or None)
        found = verify(bundle.read(file), trust, Moment.parse(given["at"]))
    except BaileeError as error:
        return {"refused": sentence(error)}
    return {"report": found.to_json(), "html": layout.render(found), "text": report.render_text(found)}


def plain(value: Any) -> str:
    """One text for one JSON value."""
    return json.dumps(value, indent=1, sort_keys=True)


def test_the_page_agrees_on_every_case(session: Opened, cases: list[dict[str, Any]]) -> None:
    """Two parties of one dispute would hold two verdicts on one file, each by a program of ours."""
    names = {each["name"].rpartition(" ")[0] for each in cases}
    assert sum("_fail]" in name for name in names) >= 50
    states = set()
    for case in cases:
        file = case["bundle"].encode()
        got = session.judge(file, case["asked"])
        got.pop("count")
        want = here(file, case["asked"])
        assert plain(got) == plain(json.loads(json.dumps(want))), case["name"]
        states.add(want["report"]["state"] if "report" in want else "refused")
    assert states >= {"broken", "intact, not cosigned", "complete and cosigned", "refused"}
    assert session.complaints == []
    assert [each for each in session.asked_for if not each.startswith(("file:", "blob:null/"))] == []


@pytest.mark.parametrize(
    "bad", [b"", b"[]", b"{", b'{"format": 1.0}', b"\xff\xfe", b"[" * 5000, b'{"format": "bailee-bundle/1"}']
)
def test_what_is_no_bundle_is_refused_alike(session: Opened, log: LogSimulator, bad: bytes) -> None:
    """A damaged file would be called broken by one and unreadable by the other."""
    given = asked(log.trust(), AT)
    got = session.judge(bad, given)
    assert {"refused": got["refused"]} == here(bad, given)


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
    assert {"refused": got["refused"]} == here(file, given)


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
    worker = packing._packed(spoil.encode() + b"\n" + packing._worker(parts))
    spoilt, sound = tmp_path / "verify.html", tmp_path / "form.json"
    spoilt.write_text(re.sub(r'(id="part-worker">)[^<]*', rf"\g<1>{worker}", file.read_text()))
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


def test_nesting_without_end_leaves_the_page_alive(session: Opened, log: LogSimulator) -> None:
    """One hostile file would kill the page, and the reader would think that the next one cannot be checked either."""
    given = asked(log.trust(), AT)
    sound = log.bundle()
    deep = "[" * 60_000
    for spoilt in (
        replace(sound, entries=(replace(sound.entries[0], text=deep), *sound.entries[1:])),
        replace(
            sound, entries=(replace(sound.entries[0], disclosures=(b64u(deep.encode()),)), *sound.entries[1:])
        ),
        sound,
    ):
        file = bundle.write(spoilt).encode()
        got = session.judge(file, given)
        assert plain(got["report"]) == plain(json.loads(json.dumps(here(file, given)["report"])))
