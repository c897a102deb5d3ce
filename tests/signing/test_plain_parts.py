"""Statements taken apart, put before openssl, which knows nothing of this program."""

from __future__ import annotations

import subprocess
from pathlib import Path

from bailee.signing import plain_parts, signed_statement
from bailee.verify.bundle import Bundle
from log_simulator import told
from programs import required

# The name of a key from its file, by tools of any machine (RFC 7638, RFC 8037 2).
NAME = """printf '{"crv":"Ed25519","kty":"OKP","x":"%s"}' \\
  "$(openssl pkey -pubin -in KEY -outform DER | tail -c 32 | basenc --base64url | tr -d =)" \
  | openssl dgst -sha256 -binary | basenc --base64url | tr -d ='\\n'"""


def parts(bundle: Bundle, folder: Path) -> None:
    """What `bailee verify --statements` writes."""
    for name, data in plain_parts.files((each.index, each.text) for each in bundle.entries):
        (folder / name).write_bytes(data)


def checked(folder: Path, number: int) -> bool:
    """The command of the auditor's guide."""
    words = [
        "pkeyutl",
        "-verify",
        "-rawin",
        "-pubin",
        "-inkey",
        f"{number}.pem",
        "-in",
        f"{number}.txt",
        "-sigfile",
        f"{number}.sig",
    ]
    done = subprocess.run([required("openssl"), *words], cwd=folder, capture_output=True, check=False)
    return done.returncode == 0 and b"Verified Successfully" in done.stdout


def test_openssl_verifies_every_statement_and_names_its_key(tmp_path: Path) -> None:
    """An auditor who trusts nobody would have to trust this program with every signature."""
    log = told("opened")
    parts(log.bundle(), tmp_path)
    assert len(list(tmp_path.glob("*.txt"))) == len(log.log)
    for number, logged in enumerate(log.log):
        assert checked(tmp_path, number)
        name = subprocess.run(
            ["sh", "-c", NAME.replace("KEY", f"{number}.pem")],
            cwd=tmp_path,
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        assert name == signed_statement.read(logged.entry.stmt).kid
    text = (tmp_path / "3.txt").read_bytes()
    (tmp_path / "3.txt").write_bytes(text[:-1] + bytes([text[-1] ^ 1]))
    assert not checked(tmp_path, 3)


def test_what_cannot_be_read_is_left_out() -> None:
    """One spoiled entry would keep all the others from being checked elsewhere."""
    log = told("opened")
    whole = [(number, each.text) for number, each in enumerate(log.log)]
    spoiled = [(0, "nothing"), *whole[1:]]
    names = {name for name, _ in plain_parts.files(spoiled)}
    assert {"0.txt", "0.sig", "0.pem"}.isdisjoint(names)
    assert "1.txt" in names
    later = [each for each in whole if each[0] == len(whole) - 1]
    assert {name for name, _ in plain_parts.files(later)} == {f"{later[0][0]}.txt", f"{later[0][0]}.sig"}
