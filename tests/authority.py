"""A throwaway time stamp authority, made and run by openssl."""

from __future__ import annotations

import shutil
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

_CONFIG = """
[ req ]
distinguished_name = name
prompt = no
[ name ]
CN = Throwaway authority (example)
[ ca ]
basicConstraints = critical,CA:TRUE
keyUsage = critical,keyCertSign
[ tsa ]
basicConstraints = CA:FALSE
keyUsage = critical,digitalSignature
extendedKeyUsage = critical,timeStamping
[ tsa_config ]
dir = {folder}
serial = {folder}/serial
crypto_device = builtin
signer_cert = {folder}/tsa.pem
signer_key = {folder}/tsa.key
signer_digest = sha256
default_policy = 1.2.3.4.1
digests = sha256
ess_cert_id_alg = sha256
"""


class Authority:
    """Its certificate of certificates is `root`."""

    def __init__(self, folder: Path) -> None:
        if not shutil.which("openssl"):
            pytest.skip("openssl is not installed")
        folder.mkdir()
        self.folder, self.root, self.config = folder, folder / "ca.pem", folder / "tsa.cnf"
        self.config.write_text(_CONFIG.format(folder=folder))
        (folder / "serial").write_text("01\n")
        own = ["-config", str(self.config), "-nodes", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256"]
        self.run(
            "req",
            "-x509",
            *own,
            "-extensions",
            "ca",
            "-keyout",
            f"{folder}/ca.key",
            "-out",
            str(self.root),
            "-days",
            "30",
        )
        self.run(
            "req",
            *own,
            "-keyout",
            f"{folder}/tsa.key",
            "-out",
            f"{folder}/tsa.csr",
            "-subj",
            "/CN=Stamp (example)",
        )
        self.run(
            "x509", "-req", "-in", f"{folder}/tsa.csr", "-CA", str(self.root), "-CAkey", f"{folder}/ca.key", "-CAcreateserial",
            "-days", "30", "-extfile", str(self.config), "-extensions", "tsa", "-out", f"{folder}/tsa.pem",
        )  # fmt: skip

    def run(self, *words: str) -> str:
        """Run openssl; what it says."""
        done = subprocess.run(["openssl", *words], capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        return done.stdout + done.stderr

    def stamp(self, query: bytes) -> bytes:
        """The reply to a request."""
        asked, replied = self.folder / "q.tsq", self.folder / "r.tsr"
        asked.write_bytes(query)
        self.run(
            "ts", "-reply", "-config", str(self.config), "-section", "tsa_config", "-queryfile", str(asked), "-out", str(replied)
        )  # fmt: skip
        return replied.read_bytes()

    def verifies(self, token: Path, text: Path) -> bool:
        """Whether openssl believes the token to be over that text."""
        done = subprocess.run(
            ["openssl", "ts", "-verify", "-token_in", "-in", str(token), "-data", str(text), "-CAfile", str(self.root)],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        return "Verification: OK" in done.stdout

    @contextmanager
    def serving(self, status: int = 200) -> Iterator[str]:
        """Its address, for a while."""
        authority = self

        class Answer(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                query = self.rfile.read(int(self.headers["Content-Length"]))
                reply = authority.stamp(query)
                self.send_response(status)
                self.send_header("Content-Type", "application/timestamp-reply")
                self.send_header("Content-Length", str(len(reply)))
                self.end_headers()
                self.wfile.write(reply)

            def log_message(self, *_: object) -> None:
                pass

        server = HTTPServer(("127.0.0.1", 0), Answer)
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        try:
            yield f"http://127.0.0.1:{server.server_port}/tsa"
        finally:
            server.shutdown()
            thread.join()
            server.server_close()
