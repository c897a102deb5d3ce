"""Personal fields beside the log (RFC 9901)."""

import base64
import hashlib
import json

import pytest
from spoken import KEY, claims

from bailee.errors import BaileeError, Forged, Malformed
from bailee.signing import disclosures, signed_statement
from published import rows

# RFC 9901 4.2.3: the `family_name` example and its digest.
(RFC9901, RFC9901_DIGEST), *_ = DISCLOSURES = rows("sdjwt-rfc9901", "disclosure")


def text_of(*parts: object) -> str:
    """A disclosure written by the standard library, as any other program would."""
    return base64.urlsafe_b64encode(json.dumps(parts).encode()).rstrip(b"=").decode()


def test_the_example_of_the_standard() -> None:
    """Private fields hidden by other software could not be checked here."""
    assert disclosures.digest(RFC9901) == RFC9901_DIGEST
    assert disclosures.reveal([RFC9901], [RFC9901_DIGEST], ()) == {"family_name": "Möbius"}


def test_all_examples_of_the_standard() -> None:
    """Another spelling of the same field would count as signed although nobody signed it."""
    assert [disclosures.digest(text) for text, _ in DISCLOSURES] == [digest for _, digest in DISCLOSURES]
    for (text,) in rows("sdjwt-rfc9901", "respelled"):
        assert disclosures.digest(text) != RFC9901_DIGEST
        with pytest.raises(Forged):
            disclosures.reveal([text], [RFC9901_DIGEST], ())


def test_what_was_concealed_is_revealed() -> None:
    """The client's name would be lost between the phone and the laboratory."""
    fields = {"client": "Ms. Example", "note": "behind the stove\n", "site": ""}
    texts = disclosures.conceal(fields)
    digests = [disclosures.digest(text) for text in texts]
    assert digests == [
        base64.urlsafe_b64encode(hashlib.sha256(text.encode()).digest()).rstrip(b"=").decode()
        for text in texts
    ]
    assert disclosures.reveal(texts, digests, ()) == fields
    assert disclosures.reveal(texts[:1], digests, ()) == {"client": "Ms. Example"}


def test_equal_values_get_unequal_digests_of_128_salted_bits() -> None:
    """Anybody could try house numbers until the digest in the public log fits."""
    texts = disclosures.conceal({"client": "A"}) + disclosures.conceal({"client": "A"})
    salts = [json.loads(base64.urlsafe_b64decode(text + "=="))[0] for text in texts]
    assert len({disclosures.digest(text) for text in texts}) == 2
    assert {len(base64.urlsafe_b64decode(salt + "==")) for salt in salts} == {16}


@pytest.mark.parametrize(
    ("parts", "code"),
    [
        (("salt", "client", "Somebody Else"), "wrong-disclosure"),
        (("salt", "client"), "bad-disclosure"),
        (("salt", "client", 5), "bad-disclosure"),
        (("salt", "client", "a", "b"), "bad-disclosure"),
        (("salt", "client", {"_sd": []}), "bad-disclosure"),
    ],
)
def test_a_false_or_misshapen_disclosure_is_refused(parts: tuple[object, ...], code: str) -> None:
    """A client's name that nobody signed would be printed on the custody record."""
    signed = disclosures.digest(disclosures.conceal({"client": "A"})[0])
    with pytest.raises(BaileeError) as refusal:
        disclosures.reveal([text_of(*parts)], [signed], ())
    assert refusal.value.code == code


@pytest.mark.parametrize("name", ["sample", "iss", "data", "_sd", "...", "act"])
def test_a_private_field_cannot_shadow_what_is_signed_in_the_open(name: str) -> None:
    """A reader would see the private text where the signed number belongs (RFC 9901 7.1)."""
    text = text_of("salt", name, "S999")
    statement = signed_statement.read(signed_statement.sign(KEY, claims(private=(disclosures.digest(text),))))
    with pytest.raises(Forged) as refusal:
        signed_statement.open_with(statement, KEY.public, [text])
    assert refusal.value.code == "wrong-disclosure"


def test_a_field_given_twice_is_refused() -> None:
    """Two readers would show two different names of one client."""
    one, two = text_of("salt one", "client", "A"), text_of("salt two", "client", "B")
    digests = [disclosures.digest(one), disclosures.digest(two)]
    for given in ([one, two], [one, one]):
        with pytest.raises(Forged):
            disclosures.reveal(given, digests, ())


@pytest.mark.parametrize("text", ["", "é", "====", "W10", "bm90IGpzb24", "WyJhIiwiYiIsImMiXQ=="])
def test_text_that_is_no_disclosure_is_refused(text: str) -> None:
    """A damaged upload would crash the service."""
    with pytest.raises(Malformed):
        disclosures.reveal([text], [], ())


def test_a_field_is_as_long_as_a_page_and_no_longer() -> None:
    """A note would be signed on the phone and then refused by every ledger."""
    longest = next(
        length for length in range(6200, 5900, -1) if len(text_of("A" * 22, "note", "x" * length)) <= 8192
    )
    # This writer puts no spaces, so two characters more still fit.
    texts = disclosures.conceal({"note": "x" * longest})
    assert disclosures.reveal(texts, [disclosures.digest(texts[0])], ())["note"] == "x" * longest
    with pytest.raises(Malformed) as refusal:
        disclosures.conceal({"note": "x" * (longest + 8)})
    assert refusal.value.code == "too-large"
    too_long = text_of("A" * 22, "note", "x" * (longest + 8))
    with pytest.raises(Malformed) as refusal:
        disclosures.reveal([too_long], [disclosures.digest(too_long)], ())
    assert refusal.value.code == "bad-disclosure"
