"""A throwaway time stamp authority, made and run by openssl.

Certificates that openssl would not stamp with are made by the library `cryptography`, and openssl signs with
them as any signed data (`odd`).
"""

from __future__ import annotations

import subprocess
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID as Use
from cryptography.x509.oid import NameOID

from bailee.signing import cms
from hosts.listening import running
from programs import required

EC = ("ec", "-pkeyopt", "ec_paramgen_curve:P-256")
RSA = ("rsa:2048",)
STAMPS = (Use.TIME_STAMPING,)

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
ess_cert_id_alg = {ess}
"""


class Authority:
    """Its certificate of certificates is `root`."""

    def __init__(self, folder: Path, *, kind: Sequence[str] = EC, ess: str = "sha256") -> None:
        required("openssl")
        folder.mkdir()
        self.folder, self.root, self.config = folder, folder / "ca.pem", folder / "tsa.cnf"
        self.config.write_text(_CONFIG.format(folder=folder, ess=ess))
        (folder / "serial").write_text("01\n")
        own = ["-config", str(self.config), "-nodes", "-newkey", *kind]
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
            "x509",
            "-req",
            "-in",
            f"{folder}/tsa.csr",
            "-CA",
            str(self.root),
            "-CAkey",
            f"{folder}/ca.key",
            "-CAcreateserial",
            "-days",
            "30",
            "-extfile",
            str(self.config),
            "-extensions",
            "tsa",
            "-out",
            f"{folder}/tsa.pem",
        )

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
            "ts",
            "-reply",
            "-config",
            str(self.config),
            "-section",
            "tsa_config",
            "-queryfile",
            str(asked),
            "-out",
            str(replied),
        )
        return replied.read_bytes()

    def odd(
        self, content: bytes, leaf: Certified, *words: str, more: Sequence[Certified] = (), cades: bool = True
    ) -> bytes:
        """A token around `content` signed by openssl with a certificate that openssl would not stamp with
        (RFC 5652).
        """
        told, made = self.folder / "content", self.folder / "odd.tst"
        told.write_bytes(content)
        signers = [
            word
            for each in (leaf, *more)
            for word in ("-signer", str(each.save(self.folder)), "-inkey", f"{each.save(self.folder)}.key")
        ]
        self.run(
            "cms",
            "-sign",
            "-binary",
            "-nodetach",
            "-econtent_type",
            "1.2.840.113549.1.9.16.1.4",
            "-in",
            str(told),
            "-outform",
            "DER",
            "-out",
            str(made),
            *signers,
            *(["-cades"] if cades else []),
            *words,
        )
        return made.read_bytes()

    def verifies(self, token: Path, text: Path, *roots: Path, untrusted: Path | None = None) -> bool:
        """Whether openssl believes the token to be over that text, with its own root or with `roots`."""
        trusted = self.folder / "trusted.pem"
        trusted.write_bytes(b"".join(each.read_bytes() for each in roots or (self.root,)))
        more = ["-untrusted", str(untrusted)] if untrusted else []
        done = subprocess.run(
            [
                "openssl",
                "ts",
                "-verify",
                "-token_in",
                "-in",
                str(token),
                "-data",
                str(text),
                "-CAfile",
                str(trusted),
                *more,
            ],
            capture_output=True,
            text=True,
            check=False,
        )
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

        with running(HTTPServer(("127.0.0.1", 0), Answer)) as address:
            yield f"{address}/tsa"


class Certified:
    """A key and a certificate of it, signed by `issuer` or by itself.

    `days` are its first and last, counted from today.
    """

    def __init__(
        self, name: str, issuer: Certified | None = None, *, ca: bool = False,
        use: Sequence[x509.ObjectIdentifier] = (), critical: bool = True, days: tuple[int, int] = (-1, 30),
        usage: Sequence[str] = ("digital_signature",), key: ec.EllipticCurvePrivateKey | None = None,
        number: int | None = None,
    ) -> None:  # fmt: skip
        self.name, self.key = name, key or ec.generate_private_key(ec.SECP256R1())
        subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
        now = datetime.now(UTC)
        said = (
            "digital_signature",
            "content_commitment",
            "key_encipherment",
            "data_encipherment",
            "key_agreement",
            "key_cert_sign",
            "crl_sign",
            "encipher_only",
            "decipher_only",
        )
        used = ("key_cert_sign",) if ca else usage
        builder = (
            x509.CertificateBuilder(
                subject_name=subject, issuer_name=issuer.certificate.subject if issuer else subject
            )
            .public_key(self.key.public_key())
            .serial_number(number or x509.random_serial_number())
            .not_valid_before(now + timedelta(days=days[0]))
            .not_valid_after(now + timedelta(days=days[1]))
            .add_extension(x509.BasicConstraints(ca, None), critical=True)
            .add_extension(x509.KeyUsage(**{each: each in used for each in said}), critical=True)
        )
        if use:
            builder = builder.add_extension(x509.ExtendedKeyUsage(use), critical=critical)
        self.certificate = builder.sign(issuer.key if issuer else self.key, hashes.SHA256())

    @property
    def pem(self) -> bytes:
        """The certificate."""
        return self.certificate.public_bytes(serialization.Encoding.PEM)

    @property
    def der(self) -> bytes:
        """The certificate, in bytes."""
        return self.certificate.public_bytes(serialization.Encoding.DER)

    def save(self, folder: Path) -> Path:
        """Write certificate and key (`….key`) into the folder."""
        path = folder / f"{self.certificate.serial_number:x}.pem"
        path.write_bytes(self.pem)
        path.with_suffix(".pem.key").write_bytes(
            self.key.private_bytes(
                serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
            )
        )
        return path


def told_in(token: bytes) -> bytes:
    """What a token tells, without who signed it."""
    return cms.read(token).content
