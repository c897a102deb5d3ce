"""Speaking with the service: every way an answer can be wrong becomes one sentence and one exit code."""

from __future__ import annotations

import ssl
import threading
from contextlib import closing
from datetime import timedelta
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import httpx2
import pytest

from bailee.domain import numbers
from bailee.errors import BaileeError, Broken, Forged, Malformed, Unavailable, Unknown
from bailee_cli.device.client import LedgerClient
from self_signed import certificate
from town import Town


def service(status: int, told: Any, media: str = "application/problem+json") -> LedgerClient:
    """A service that always gives this answer."""

    def answer(_: httpx2.Request) -> httpx2.Response:
        if isinstance(told, str):
            return httpx2.Response(status, text=told, headers={"Content-Type": media})
        return httpx2.Response(status, json=told, headers={"Content-Type": media})

    return LedgerClient("https://ledger.example", transport=httpx2.MockTransport(answer))


@pytest.mark.parametrize(
    ("status", "kind"),
    [
        (400, Malformed),
        (401, Forged),
        (403, Forged),
        (404, Unknown),
        (409, Forged),
        (413, Malformed),
        (422, Malformed),
        (418, Broken),
        (500, Unavailable),
        (503, Unavailable),
    ],
)
def test_a_problem_becomes_our_error_with_its_own_sentence(status: int, kind: type[BaileeError]) -> None:
    """If this fails, people read status numbers instead of what to do."""
    told = {
        "type": "/problems/x",
        "title": "T",
        "status": status,
        "detail": "Do this.",
        "code": "x",
        "extra": 1,
    }
    with pytest.raises(BaileeError) as raised:
        service(status, told).get("/forms")

    assert type(raised.value) is kind
    assert (raised.value.sentence, raised.value.code, raised.value.facts) == ("Do this.", "x", {"extra": 1})


@pytest.mark.parametrize("status", [302, 404, 502])
def test_an_answer_without_a_reason_is_no_answer(status: int) -> None:
    """If this fails, a proxy's error page is taken for the ledger saying that a form does not exist."""
    with pytest.raises(Unavailable) as raised:
        service(status, "<html>", "text/html").get("/forms/F")

    assert f"answered {status}" in raised.value.sentence


def test_a_page_instead_of_a_document_is_not_saved_as_one() -> None:
    """If this fails, a custody record on file is the sign-in page of a hotel."""
    with pytest.raises(Unavailable) as raised:
        service(200, "<html>", "text/html").get_bytes("/forms/F/record.pdf", "application/pdf")

    assert raised.value.code == "not-a-ledger"


@pytest.mark.parametrize("address", ["not an address", "ftp://ledger.example", "https://"])
def test_an_address_that_is_none_is_said(address: str) -> None:
    """If this fails, a slip in `--service` is a traceback."""
    with pytest.raises((Malformed, Unavailable)):
        LedgerClient(address).get("/health")


def test_a_wrong_clock_is_said_and_locks_nobody_out(settled: Town) -> None:
    """If this fails, a phone whose clock is an hour off signs false times and nobody knows why."""
    inspector = settled.person("inspector")
    session = inspector.session()
    behind = session.clock() - timedelta(hours=1)
    session.clock = lambda: behind
    from click.testing import CliRunner

    from bailee_cli.main import bailee

    result = CliRunner().invoke(bailee, ["--as", "inspector", "show"], obj=session)

    assert result.exit_code == 0
    assert "The clock of this device is 1 h behind, by the service's." in result.output


@pytest.mark.parametrize(
    "answer",
    ["{}", "[]", "null", '{"status":"ok"}', '{"forms":5,"log_key":5,"length":5,"head":"x","zone":null}'],
)
def test_who_answers_like_no_service_of_this_version_is_named(settled: Town, answer: str) -> None:
    """If this fails, a clerk whose address leads to an older service, or to any other program, reads lines of
    this one's inside.
    """
    clerk, form = settled.person("clerk"), numbers.issue("form", lambda _: "3")
    lot = numbers.issue("lot", lambda _: "3")
    settled.line.inner = httpx2.MockTransport(
        lambda _: httpx2.Response(200, text=answer, headers={"Content-Type": "application/json"})
    )
    before = (clerk.folder / "profile.toml").read_bytes()
    for words in (
        ("join", "--service", "https://ledger.example", "--org", "harrow-field"), ("show",), ("show", form),
        ("check", form), ("chase",), ("contradictions",), ("lot", "show", lot),
    ):  # fmt: skip
        said = " ".join(clerk.run(*words, code=3).split())
        assert "The service at https://ledger.example does not answer like a Bailee service" in said, words
    assert (clerk.folder / "profile.toml").read_bytes() == before


@pytest.mark.parametrize(
    ("address", "proxy", "read"),
    [
        ("http://127.0.0.1:1", "", False),
        ("https://ledger.example", "", True),
        ("http://ledger.example", "https://proxy.example", True),
    ],
)
def test_certificates_count_wherever_tls_may_be_spoken(
    monkeypatch: pytest.MonkeyPatch, address: str, proxy: str, read: bool
) -> None:
    """If this fails, every command reads all authorities of the machine for nothing, or a command trusts no
    genuine service any more.
    """
    for name in ("http_proxy", "https_proxy", "all_proxy"):
        monkeypatch.setenv(name, proxy if name == "http_proxy" else "")
        monkeypatch.delenv(name.upper(), raising=False)
    asked = []
    genuine = ssl.SSLContext.load_verify_locations
    monkeypatch.setattr(
        ssl.SSLContext,
        "load_verify_locations",
        lambda *which, **how: asked.append(1) or genuine(*which, **how),
    )
    monkeypatch.setattr(ssl.SSLContext, "load_default_certs", lambda *_: asked.append(1))
    LedgerClient(address).close()
    assert bool(asked) is read


def test_a_certificate_of_an_own_authority_is_believed_by_whoever_has_its_root(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If this fails, an office with an authority of its own is told to check its network."""
    certificate(tmp_path, "localhost")
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(tmp_path / "fullchain.pem", tmp_path / "privkey.pem")
    server = ThreadingHTTPServer(("127.0.0.1", 0), SimpleHTTPRequestHandler)
    server.socket = context.wrap_socket(server.socket, server_side=True)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    address = f"https://localhost:{server.server_port}"
    try:
        for file, said in ((None, "certificate of"), (tmp_path / "fullchain.pem", "")):
            if file:
                monkeypatch.setenv("SSL_CERT_FILE", str(file))
            with closing(LedgerClient(address)) as client, pytest.raises(BaileeError) as raised:
                client.get("/nowhere")
            assert said in raised.value.sentence
            assert ("SSL_CERT_FILE" in raised.value.sentence) is bool(said)
            assert (raised.value.code == "unreachable") is bool(said)
    finally:
        server.shutdown()
        server.server_close()


@pytest.mark.parametrize("text", [None, "no certificate"])
def test_a_file_of_authorities_that_cannot_be_read_is_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, text: str | None
) -> None:
    """If this fails, a slip in the environment is a page of Python."""
    file = tmp_path / "root.crt"
    if text:
        file.write_text(text)
    monkeypatch.setenv("SSL_CERT_FILE", str(file))
    with pytest.raises(Unavailable) as raised:
        LedgerClient("https://ledger.example")
    assert raised.value.code == "bad-authorities"
