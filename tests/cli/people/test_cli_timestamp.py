"""Stamped by an authority outside, put into auditors' files, and believed by openssl."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from authority import Authority
from bailee.config import Settings
from bailee.domain.moments import Moment
from bailee.ledger.base64url import b64, unb64
from bailee.store import schema
from field import ORIGIN
from town import OPEN, Town, verify_words


@pytest.fixture
def authority(tmp_path: Path) -> Authority:
    """A new authority."""
    return Authority(tmp_path / "authority")


@pytest.fixture
def home(settled: Town) -> str:
    """The folder of the town's service, as its operator sees it."""
    settings: Settings = replace(settled.ledger.settings)
    (settings.home / "settings.toml").write_text(settings.text())
    return str(settings.home)


def bundle_of(town: Town) -> Path:
    """An auditor's file of a new form."""
    inspector = town.person("inspector")
    inspector.run(*OPEN)
    form = inspector.answer("show")["forms"][0]["form"]
    path = town.folder / "bundle.json"
    inspector.run("bundle", form, "-o", str(path))
    return path


def test_a_stamp_is_carried_in_the_file_and_openssl_believes_it(
    settled: Town, authority: Authority, home: str
) -> None:
    """All parties together could pretend years later that a record was made earlier than it was."""
    bundle_of(settled)
    operator = settled.person("operator")
    with authority.serving() as address:
        said = operator.run("timestamp", "--home", home, "--tsa", address)
    assert "Stamped: the checkpoint of" in said
    path = bundle_of(settled)
    # The second form is newer than the stamp: the first one's file carries it.
    forms = settled.person("inspector").answer("show")["forms"]
    assert len(forms) == 2
    settled.person("inspector").run("bundle", forms[1]["form"], "-o", str(path))
    folder = settled.folder / "tokens"
    told = json.loads(
        operator.type("--json", "verify", str(path), *verify_words(settled), "--tokens", str(folder)).stdout
    )
    assert told["faults"] == []
    (stamp,) = told["stamps"]
    assert stamp["text"].startswith(f"{ORIGIN}\n{stamp['size']}\n")
    assert any(each["code"] == "tokens" and "openssl" in each["sentence"] for each in told["not_checked"])
    assert "/tokens" in told["unauthenticated"]
    token, text = folder / f"{stamp['size']}.tst", folder / f"{stamp['size']}.txt"
    assert authority.verifies(token, text)
    text.write_text(text.read_text().replace(ORIGIN, "ledger.example/other"))
    assert not authority.verifies(token, text)
    at = Moment.parse(stamp["at"]).clock
    assert f"existed on {at}" in operator.run("verify", str(path), *verify_words(settled), code=None)


def test_with_a_root_of_the_authority_the_stamp_is_checked(
    settled: Town, authority: Authority, home: str
) -> None:
    """An auditor would have to believe the operator about the time, or learn another program."""
    bundle_of(settled)
    operator = settled.person("operator")
    with authority.serving() as address:
        operator.run("timestamp", "--home", home, "--tsa", address)
    path, form = (
        settled.folder / "bundle.json",
        settled.person("inspector").answer("show")["forms"][0]["form"],
    )
    settled.person("inspector").run("bundle", form, "-o", str(path))
    words = ["--json", "verify", str(path), *verify_words(settled)]
    without = operator.type(*words)
    done = operator.type(*words, "--stamp-root", str(authority.root))
    told = json.loads(done.stdout)
    (stamp,) = told["stamps"]
    assert (stamp["signed"], stamp["authority"]) == ("checked", "CN=Stamp (example)")
    assert {"tokens", "stamp-ended"} & {each["code"] for each in told["not_checked"]} == {"stamp-ended"}
    assert (done.exit_code, told["state"]) == (without.exit_code, json.loads(without.stdout)["state"])

    other = Authority(settled.folder / "another")
    doubted = operator.type(*words, "--stamp-root", str(other.root))
    told = json.loads(doubted.stdout)
    assert [each["code"] for each in told["remarks"]] == ["stamp-not-believed"]
    assert told["stamps"][0]["signed"] == "not believed"
    assert (doubted.exit_code, told["state"]) == (without.exit_code, json.loads(without.stdout)["state"])
    assert "Time stamp that does not verify" in operator.run(
        *words[1:], "--stamp-root", str(other.root), code=None
    )

    members = json.loads(path.read_text())
    (token,) = members["tokens"]
    der = bytearray(unb64(token["der"]))
    der[-1] ^= 1  # the end of the signature
    path.write_text(json.dumps({**members, "tokens": [{**token, "der": b64(bytes(der))}]}))
    told = json.loads(operator.type(*words, "--stamp-root", str(authority.root)).stdout)
    assert (told["state"], [each["code"] for each in told["faults"]]) == ("broken", ["token"])


def test_a_stamp_lost_with_the_database_comes_back_out_of_a_file(
    settled: Town, authority: Authority, home: str
) -> None:
    """After a restored backup the only proof of age would lie in the customer's drawer, and nobody could put
    it back.
    """
    bundle_of(settled)
    operator = settled.person("operator")
    with authority.serving() as address:
        operator.run("timestamp", "--home", home, "--tsa", address)
    path, form = (
        settled.folder / "bundle.json",
        settled.person("inspector").answer("show")["forms"][0]["form"],
    )
    settled.person("inspector").run("bundle", form, "-o", str(path))
    settled.ledger.database.write(lambda connection: connection.execute(schema.token.delete()))
    said = operator.run("repair", "--home", home, "--bundle", str(path))
    assert "contradictions of devices 0, time stamps 1" in " ".join(said.split())
    assert "not here again" not in said  # no entry was missing
    settled.person("inspector").run("bundle", form, "-o", str(path))
    assert len(json.loads(path.read_text())["tokens"]) == 1
    members = json.loads(path.read_text())
    members["tokens"][0]["size"] += 1
    path.write_text(json.dumps(members))
    assert "Not used: 1" in operator.run("repair", "--home", home, "--bundle", str(path))


def test_a_root_that_is_none_is_said_at_once(settled: Town, tmp_path: Path) -> None:
    """A typing error would look like a stamp that is not believed."""
    path, operator = bundle_of(settled), settled.person("operator")
    words = ["verify", str(path), *verify_words(settled), "--stamp-root"]
    assert "there is no" in operator.run(*words, str(tmp_path / "none.pem"), code=2)
    (tmp_path / "bad.pem").write_text("hello")
    assert "bad.pem: This is no certificate" in operator.run(*words, str(tmp_path / "bad.pem"), code=2)


def test_request_and_reply_may_travel_by_other_means(settled: Town, authority: Authority, home: str) -> None:
    """A server without a way out could never be stamped."""
    operator, folder = settled.person("operator"), settled.folder
    bundle_of(settled)
    operator.run("timestamp", "--home", home, "--request", str(folder / "q.tsq"))
    assert "Hash Algorithm: sha256" in authority.run("ts", "-query", "-in", str(folder / "q.tsq"), "-text")
    (folder / "r.tsr").write_bytes(authority.stamp((folder / "q.tsq").read_bytes()))
    assert "Stamped" in operator.run("timestamp", "--home", home, "--token", str(folder / "r.tsr"))


def test_a_stamp_over_something_else_is_not_kept(settled: Town, authority: Authority, home: str) -> None:
    """A stamp of another log would be shown to auditors as if it were this one's."""
    from bailee.signing import timestamp

    operator, reply = settled.person("operator"), settled.folder / "r.tsr"
    bundle_of(settled)
    reply.write_bytes(authority.stamp(timestamp.request("another text", 7)))
    assert "none of this log's" in operator.run("timestamp", "--home", home, "--token", str(reply), code=1)
    reply.write_bytes(b"nothing of the kind")
    assert "not in the form" in operator.run("timestamp", "--home", home, "--token", str(reply), code=2)


def test_an_authority_that_does_not_answer_leaves_everything_as_it_was(
    settled: Town, authority: Authority, home: str
) -> None:
    """The nightly job would fail without a word, or keep an error page as a stamp."""
    bundle_of(settled)
    operator = settled.person("operator")
    assert "did not answer" in operator.run(
        "timestamp", "--home", home, "--tsa", "http://127.0.0.1:9/tsa", code=3
    )
    with authority.serving(status=503) as address:
        assert "answered 503" in operator.run("timestamp", "--home", home, "--tsa", address, code=3)
    assert "Give one of" in operator.run("timestamp", "--home", home, code=2)


def test_a_stamp_moved_to_another_size_is_a_fault_of_the_file(
    settled: Town, authority: Authority, home: str
) -> None:
    """Somebody could lend a young record the stamp of an old one."""
    path = bundle_of(settled)
    operator = settled.person("operator")
    with authority.serving() as address:
        operator.run("timestamp", "--home", home, "--tsa", address)
    form = settled.person("inspector").answer("show")["forms"][0]["form"]
    settled.person("inspector").run("bundle", form, "-o", str(path))
    members = json.loads(path.read_text())
    (token,) = members["tokens"]
    der = bytearray(unb64(token["der"]))
    for changed in (
        {**token, "size": token["size"] - 1},
        {**token, "der": b64(bytes(der[:-1]))},
        {**token, "der": b64(bytes(der).replace(b"\x04\x20", b"\x04\x1f", 1))},
    ):
        path.write_text(json.dumps({**members, "tokens": [changed]}))
        told = json.loads(operator.type("--json", "verify", str(path), *verify_words(settled)).stdout)
        assert [each["code"] for each in told["faults"]] == ["token"]
    path.write_text(json.dumps({**members, "tokens": [{**token, "type": "other"}]}))
    assert "rfc3161" in operator.run("verify", str(path), *verify_words(settled), code=3)
