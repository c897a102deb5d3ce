"""What a browser leaves lying about: the link that entered the pages, and the cookie.

And what lies in the folder the auditor's page is made of.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from operator_hands import Fields
from promises import promised

from bailee.signing import access
from field import Field

ROOT = Path(__file__).resolve().parents[2]
PARTS = ROOT / "deploy" / "page" / "parts"


@pytest.fixture
def field(make_field: Fields) -> Field:
    """A firm and a laboratory."""
    return make_field()


def link(field: Field, who: str = "clerk") -> str:
    """What stands behind the # of the link."""
    device = field.people[who]
    origin, now = field.ledger.settings.origin, int(field.clock().timestamp())
    return access.issue_for_pages(device.key, device.org, origin, now)


def entered(field: Field, token: str) -> FlaskClient:
    """A browser that was let in."""
    client = field.app.test_client()
    assert client.post("/session", json={"token": token}).status_code == 200
    return client


def refused(client: FlaskClient, token: str) -> str:
    """How a browser with this token is sent away."""
    answer = client.post("/session", json={"token": token})
    assert answer.status_code == 401
    return str(answer.get_json()["code"])


def test_a_stolen_cookie_is_worthless_after_its_person_has_left(field: Field) -> None:
    """Who copied the cookie from the office computer reads every visit until the evening, though its owner
    has left.
    """
    promised("copies the cookie", "worthless once its person has left")
    form = field.open_form()
    owner, thief = entered(field, link(field)), field.app.test_client()
    stolen = owner.get_cookie("custody")
    assert stolen
    thief.set_cookie("custody", stolen.value)
    page = f"/pages/forms/{form}"
    assert thief.get(page).status_code == 200
    assert owner.post("/session/end").status_code == 303
    assert [each.get(page).status_code for each in (owner, thief)] == [401, 401]
    assert thief.get(f"/forms/{form}").status_code == 401
    other = entered(field, link(field))  # leaving ended one session, and not its person's next
    assert other.get(page).status_code == 200


def test_a_link_opens_the_pages_once(field: Field) -> None:
    """Whoever opens the browser's list of visited addresses a minute later is in."""
    promised("finds a link", "opens nothing again")
    used = link(field)
    owner = entered(field, used)
    stranger = field.app.test_client()
    assert refused(stranger, used) == "token-used"
    owner.post("/session/end")
    assert refused(stranger, used) == "token-used"
    assert link(field) != used  # a second one of the same second is another one
    field.clock.advance(hours=13)
    assert refused(stranger, used) == "token-expired"


def test_what_opens_the_pages_reads_and_does_nothing_else(field: Field) -> None:
    """With the link or the cookie somebody would ask in another's name over the interface for programs, where
    nothing ends a session.
    """
    promised("finds a link", "reads and does nothing else")
    form = field.open_form()
    token = link(field)
    bearer = {"Authorization": f"Bearer {token}"}
    program = field.app.test_client()
    for answer in (
        program.get(f"/forms/{form}", headers=bearer),
        program.post("/readiness", json={}, headers=bearer),
    ):
        assert (answer.status_code, answer.get_json()["code"]) == (401, "bad-token")
    device = field.people["clerk"]
    origin, now = field.ledger.settings.origin, int(field.clock().timestamp())
    assert refused(program, access.issue(device.key, device.org, origin, now)) == "bad-token"
    browser = entered(field, token)
    assert browser.get(f"/forms/{form}").status_code == 200
    answer = browser.post("/readiness", json={})
    assert (answer.status_code, answer.get_json()["code"]) == (401, "no-token")


def test_a_folder_that_says_it_is_right_is_not_believed(tmp_path: Path) -> None:
    """The verifier that an auditor gets would be whatever somebody put into a folder of somebody else's
    machine.
    """
    promised("changes a part of the auditor's page", "compares every part each time")
    if not (PARTS / "pyodide.mjs").exists():
        pytest.skip("no parts of the page (they need npm)")
    folder = tmp_path / "parts"
    shutil.copytree(PARTS, folder)
    tools = tmp_path / "tools"
    tools.mkdir()
    for name in ("sh", "cat", "dirname"):
        (tools / name).symlink_to(str(shutil.which(name)))
    environment = {
        **os.environ,
        "PATH": str(tools),
        "PYTHON": sys.executable,
    }  # and no npm: nothing comes anew

    def fetch() -> subprocess.CompletedProcess[str]:
        script = ROOT / "deploy" / "page" / "fetch"
        words = [str(shutil.which("sh")), str(script), str(folder)]
        return subprocess.run(words, env=environment, capture_output=True, text=True, check=False)

    assert fetch().returncode == 0
    part = folder / "pyodide.mjs"
    sound = part.read_bytes()
    part.write_bytes(sound.replace(b"a", b"b", 1))
    done = fetch()
    assert (done.returncode, "pyodide.mjs" in done.stderr) == (1, True)
    part.write_bytes(sound)
    assert fetch().returncode == 0
    (folder / "wheels" / "one-more.whl").write_bytes(b"")
    done = fetch()
    assert (done.returncode, "wheels/one-more.whl" in done.stderr) == (1, True)
