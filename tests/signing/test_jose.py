"""Our statements in the hands of other software: joserfc, PyNaCl, OpenSSL; and theirs in ours."""

import base64
import json
import subprocess
from pathlib import Path

import pytest
from joserfc import jws
from joserfc.errors import JoseError
from joserfc.jwk import OKPKey
from nacl.signing import SigningKey as SodiumKey
from spoken import CLAIMS, KEY, OTHER_KEY

from bailee.errors import Malformed
from bailee.ledger.base64url import unb64u
from bailee.signing import keys, signed_statement
from programs import required
from published import rows

# RFC 8037 appendix A.1 to A.4.
(A1_D,), (A2_X,), (A3_THUMBPRINT,), (A4_COMPACT,) = (
    rows("jose-rfc8037", kind)[0] for kind in ("private", "public", "thumbprint", "valid")
)


def test_key_and_thumbprint_of_the_jose_standard() -> None:
    """A key would have another name in the log than on the letterhead where the auditor looks it up."""
    key = keys.SigningKey.from_seed(unb64u(A1_D))
    assert key.jwk == {"crv": "Ed25519", "kty": "OKP", "x": A2_X}  # RFC 8037 A.2
    assert key.kid == A3_THUMBPRINT  # RFC 8037 A.3, by the rule of RFC 7638 3
    assert keys.kid_of(keys.public_bytes(key.jwk)) == A3_THUMBPRINT
    assert OKPKey.import_key(dict(key.jwk)).thumbprint() == A3_THUMBPRINT  # reference: joserfc


def test_signature_of_the_jose_standard() -> None:
    """A device with a standard JOSE library would sign statements that we call forged."""
    signing_input, _, signature = A4_COMPACT.rpartition(".")
    key = keys.SigningKey.from_seed(unb64u(A1_D))
    assert key.sign(signing_input.encode()) == unb64u(signature)  # RFC 8037 A.4
    keys.verify(key.public, unb64u(signature), signing_input.encode())  # RFC 8037 A.5


def test_valid_jose_texts_of_another_kind_are_no_statements() -> None:
    """A token signed for another purpose, or with another algorithm, would be registered as custody."""
    texts = [text for source in ("jose-rfc7515", "jose-rfc8037") for (text,) in rows(source, "valid")]
    assert len(texts) == 4  # RFC 7515 A.1 (HS256), A.2 (RS256), A.3 (ES256), RFC 8037 A.4
    for text in texts:
        with pytest.raises(Malformed):
            signed_statement.read(text)


def test_no_wycheproof_jws_is_a_statement() -> None:
    """One of 401 collected tricks against JOSE libraries would get past the strict reader."""
    cases = rows("jws-wycheproof")
    assert len(cases) == 401
    for _, text in cases:
        with pytest.raises(Malformed):
            signed_statement.read(text)


def test_joserfc_verifies_a_statement_and_reads_the_same_claims() -> None:
    """The opposing side's expert could not confirm a signature with ordinary software."""
    text = signed_statement.sign(KEY, CLAIMS)
    found = jws.deserialize_compact(text, OKPKey.import_key(dict(KEY.jwk)), algorithms=["Ed25519"])
    assert found.headers() == {"alg": "Ed25519", "kid": KEY.kid, "typ": signed_statement.TYP}
    assert json.loads(found.payload) == CLAIMS.to_json()
    with pytest.raises(JoseError):
        jws.deserialize_compact(text, OKPKey.import_key(dict(OTHER_KEY.jwk)), algorithms=["Ed25519"])


def test_joserfc_and_libsodium_sign_the_very_same_text() -> None:
    """A second implementation would make another statement of the same words, and a retry would count as a
    fork.
    """
    text = signed_statement.sign(KEY, CLAIMS)
    header, payload, signature = text.split(".")
    private = OKPKey.import_key({**KEY.jwk, "d": A1_D})
    theirs = jws.serialize_compact(
        json.loads(_decoded(header)), _decoded(payload), private, algorithms=["Ed25519"]
    )
    assert theirs == text
    sodium = SodiumKey(unb64u(A1_D))
    signed = sodium.sign(f"{header}.{payload}".encode())
    assert signed.signature == unb64u(signature)
    sodium.verify_key.verify(f"{header}.{payload}".encode(), unb64u(signature))


def test_openssl_verifies_a_statement(tmp_path: Path) -> None:
    """In twenty years only the most common tool may be left to check a signature with."""
    openssl = required("openssl")
    signing_input, _, signature = signed_statement.sign(KEY, CLAIMS).rpartition(".")
    (tmp_path / "said").write_text(signing_input)
    (tmp_path / "signature").write_bytes(unb64u(signature))
    # SubjectPublicKeyInfo of Ed25519: a fixed prefix before the raw key (RFC 8410 4 and 10.1).
    (tmp_path / "key.der").write_bytes(bytes.fromhex("302a300506032b6570032100") + KEY.public)

    def verified() -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [openssl, "pkeyutl", "-verify", "-rawin", "-pubin", "-keyform", "DER", "-inkey", "key.der",
             "-sigfile", "signature", "-in", "said"],
            cwd=tmp_path, capture_output=True, text=True, check=False,
        )  # fmt: skip

    first = verified()
    if first.returncode and "nown option" in first.stderr:
        pytest.skip("this openssl cannot verify raw input")
    assert first.returncode == 0, first.stderr
    (tmp_path / "said").write_text(signing_input + "A")
    assert verified().returncode != 0


def _decoded(text: str) -> bytes:
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


def _strings(value: object) -> list[str]:
    if isinstance(value, str):
        return [value]
    parts = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return [text for part in parts for text in _strings(part)]
