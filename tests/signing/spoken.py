"""One device key and one statement, for the tests of signing. The seed is that of RFC 8032 7.1 TEST 1."""

from dataclasses import replace
from typing import Any

from bailee.signing import keys
from bailee.signing.signed_statement import Claims, Seen

KEY = keys.SigningKey.from_seed(
    bytes.fromhex("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60")
)
OTHER_KEY = keys.SigningKey.from_seed(
    bytes.fromhex("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb")  # RFC 8032 7.1 TEST 2
)
ORIGIN = "custody.example.org/log1"
ORG = "harrow-field"
NOW = 1_764_590_400

CLAIMS = Claims(
    iss=ORG,
    aud=ORIGIN,
    sub="form/F000000000AB",
    act="voided",
    iat=NOW,
    tzo="-05:00",
    seq=7,
    prev="A" * 43,
    after=None,
    data={"sample": "S000000000AB", "reason": "dropped", "near": ["Ärger", "none"]},
    refs=("B" * 43,),
    seen=Seen(12, "C" * 43),
)


def claims(**changes: Any) -> Claims:
    """The statement's claims with some of them changed."""
    return replace(CLAIMS, **changes)
