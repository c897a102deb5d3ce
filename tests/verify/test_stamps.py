"""Whether a time stamp is believed: the signature, the certificate and its root, each held against `openssl
ts -verify`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest
from cryptography.x509.oid import ExtendedKeyUsageOID as Use

from authority import EC, RSA, STAMPS, Authority, Certified, told_in
from bailee.errors import BaileeError, Malformed
from bailee.ledger import merkle
from bailee.ledger.checkpoint import Checkpoint
from bailee.signing import cms, timestamp
from bailee.verify import authority, stamped_checkpoints
from bailee.verify.bundle import TimeStampToken
from bailee.verify.evidence import Notes
from bailee.verify.report_text import stamped
from bailee.verify.verifier import verify
from log_simulator import AT, told

ORIGIN, SIZE, ROOT = "ledger.example/log1", 27, bytes(range(32))
TEXT = Checkpoint(ORIGIN, SIZE, ROOT).body()


@dataclass(frozen=True)
class Given:
    """A token, and the certificates that the auditor and openssl bring (PEM)."""

    token: bytes
    roots: tuple[bytes, ...]
    untrusted: bytes = b""
    """For openssl only what leads to a root; here it is in the same file."""


@dataclass
class Bench:
    """Authorities that stamp, made once."""

    folder: Path
    good: Authority
    rsa: Authority
    old: Authority
    """Names its certificate in the way of RFC 2634, with SHA-1."""
    root: Certified = field(default_factory=lambda: Certified("Root (example)", ca=True))

    @property
    def token(self) -> bytes:
        """A token as it should be."""
        return stamp(self.good)

    def by(self, leaf: Certified, *above: Certified, cades: bool = True) -> Given:
        """A token that `leaf` signed, coming with the certificates above it, for an auditor who brings the
        bench's root.
        """
        words = []
        if above:
            chain = self.folder / "above.pem"
            chain.write_bytes(b"".join(each.pem for each in above))
            words = ["-certfile", str(chain)]
        token = self.good.odd(told_in(self.token), leaf, *words, cades=cades)
        return Given(token, (self.root.pem,))


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    """One for all of these."""
    folder = tmp_path_factory.mktemp("tsa")
    return Bench(
        folder,
        Authority(folder / "good", kind=EC),
        Authority(folder / "rsa", kind=RSA),
        Authority(folder / "old", ess="sha1"),
    )


def stamp(tsa: Authority, text: str = TEXT) -> bytes:
    """A token over the text."""
    return timestamp.token_in(tsa.stamp(timestamp.request(text, 7)))


def own(tsa: Authority, token: bytes | None = None) -> Given:
    """A token of this authority, and its root."""
    return Given(token or stamp(tsa), (tsa.root.read_bytes(),))


def bare(bench: Bench) -> Given:
    """A token without any certificate: its request did not ask for one, and the auditor brings it."""
    query = timestamp.request(TEXT, 7).replace(b"\x01\x01\xff", b"\x01\x01\x00")
    leaf = (bench.good.folder / "tsa.pem").read_bytes()
    return Given(timestamp.token_in(bench.good.stamp(query)), (bench.good.root.read_bytes(),), untrusted=leaf)


def below(bench: Bench, **above: object) -> Given:
    """A token whose certificate hangs on another one below the root."""
    middle = Certified("Middle (example)", bench.root, **{"ca": True, **above})  # type: ignore[arg-type]
    return bench.by(Certified("Stamp (example)", middle, use=STAMPS), middle)


SOUND: dict[str, Callable[[Bench], Given]] = {
    "EC": lambda bench: own(bench.good),
    "RSA": lambda bench: own(bench.rsa),
    "certificate named with SHA-1": lambda bench: own(bench.old),
    "certificate brought by the auditor": bare,
    "one certificate in between": below,
    "one in between, for time stamps": lambda bench: below(bench, use=STAMPS),
    "several roots": lambda bench: Given(bench.token, (bench.root.pem, bench.good.root.read_bytes())),
}


def swapped(bench: Bench) -> Given:
    """The signer's certificate is exchanged for another of the same key, name and number."""
    leaf = Certified("Stamp (example)", bench.root, use=STAMPS)
    given = bench.by(leaf)
    other = Certified(
        "Stamp (example)",
        bench.root,
        use=STAMPS,
        key=leaf.key,
        number=leaf.certificate.serial_number,
        days=(-2, 400),
    )
    # ECDSA signatures differ in length by a byte or two; only an exchange of equal length leaves the lengths
    # around it right.
    while len(other.der) != len(leaf.der):
        other = Certified(
            "Stamp (example)",
            bench.root,
            use=STAMPS,
            key=leaf.key,
            number=leaf.certificate.serial_number,
            days=(-2, 400),
        )
    return Given(given.token.replace(leaf.der, other.der), given.roots)


def flipped(part: Callable[[bytes], bytes]) -> Callable[[Bench], Given]:
    """One bit of a part of the token is changed."""

    def made(bench: Bench) -> Given:
        token = bench.token
        wanted = part(token)
        assert token.count(wanted) == 1
        return own(bench.good, token.replace(wanted, wanted[:-1] + bytes([wanted[-1] ^ 1])))

    return made


def year_later(bench: Bench) -> Given:
    """The time it tells is one year later."""
    token = bench.token
    at = timestamp.read(token).at
    then = at.replace(year=at.year + 1, day=min(at.day, 28))
    return own(bench.good, token.replace(f"{at:%Y%m%d%H%M%S}".encode(), f"{then:%Y%m%d%H%M%S}".encode()))


ALTERED: dict[str, Callable[[Bench], Given]] = {
    "the time": year_later,
    "the signature": flipped(lambda token: cms.read(token).signer.signature),
    "what was signed": flipped(lambda token: cms.read(token).signer.attributes[cms.MESSAGE_DIGEST]),
    "another certificate of the same name": swapped,
    "two signers": lambda bench: Given(
        bench.good.odd(
            told_in(bench.token),
            Certified("One (example)", bench.root, use=STAMPS),
            more=[Certified("Two (example)", bench.root, use=STAMPS)],
        ),
        (bench.root.pem,),
    ),
}
NOT_BELIEVED: dict[str, tuple[Callable[[Bench], Given], str]] = {
    "another root": (lambda bench: Given(bench.token, (bench.root.pem,)), "does not lead to a root"),
    "another root of the same name": (
        lambda bench: Given(
            bench.by(Certified("Stamp (example)", bench.root, use=STAMPS)).token,
            (Certified("Root (example)", ca=True).pem,),
        ),
        "does not lead to a root",
    ),
    "no certificate": (
        lambda bench: Given(bare(bench).token, (bench.good.root.read_bytes(),)),
        "neither in it nor",
    ),
    "expired before": (
        lambda bench: bench.by(Certified("Stamp (example)", bench.root, use=STAMPS, days=(-30, -1))),
        "not at the time it shows",
    ),
    "valid only later": (
        lambda bench: bench.by(Certified("Stamp (example)", bench.root, use=STAMPS, days=(1, 30))),
        "not at the time it shows",
    ),
    "no purpose": (
        lambda bench: bench.by(Certified("Stamp (example)", bench.root)),
        "is not marked for time stamps",
    ),
    "purpose not critical": (
        lambda bench: bench.by(Certified("Stamp (example)", bench.root, use=STAMPS, critical=False)),
        "for time stamps alone",
    ),
    "another purpose": (
        lambda bench: bench.by(Certified("Stamp (example)", bench.root, use=[Use.SERVER_AUTH])),
        "for time stamps alone",
    ),
    "two purposes": (
        lambda bench: bench.by(
            Certified("Stamp (example)", bench.root, use=[Use.TIME_STAMPING, Use.SERVER_AUTH])
        ),
        "for time stamps alone",
    ),
    "key not for signatures": (
        lambda bench: bench.by(
            Certified("Stamp (example)", bench.root, use=STAMPS, usage=["key_encipherment"])
        ),
        "not for signatures",
    ),
    "issuer that may not issue": (lambda bench: below(bench, ca=False), "does not lead to a root"),
    "issuer that had expired": (lambda bench: below(bench, days=(-9, -1)), "does not lead to a root"),
    "root that had expired": (
        lambda bench: _under(Certified("Root (example)", ca=True, days=(-9, -1)), bench),
        "does not lead to a root",
    ),
    "does not show which certificate": (
        lambda bench: bench.by(Certified("Stamp (example)", bench.root, use=STAMPS), cades=False),
        "which certificate",
    ),
}


def _under(root: Certified, bench: Bench) -> Given:
    token = bench.by(Certified("Stamp (example)", root, use=STAMPS)).token
    return Given(token, (root.pem,))


def judged(given: Given) -> tuple[str, Notes]:
    """What the verifier makes of it: `checked`, `not believed`, `not checked` or `fault`."""
    notes = Notes()
    roots = [each for pem in (*given.roots, given.untrusted) if pem for each in authority.certificates(pem)]
    found = stamped_checkpoints.check(
        [TimeStampToken(SIZE, given.token)], ORIGIN, [(SIZE, ROOT)], roots, notes
    )
    return found[0].signed if found else "fault", notes


def openssl_believes(bench: Bench, given: Given) -> bool:
    """The same question to openssl."""
    folder = bench.folder
    (folder / "t").write_bytes(given.token)
    (folder / "d").write_text(TEXT)
    files = [folder / f"root{number}" for number in range(len(given.roots))]
    for file, pem in zip(files, given.roots, strict=True):
        file.write_bytes(pem)
    if given.untrusted:
        (folder / "u").write_bytes(given.untrusted)
    return bench.good.verifies(
        folder / "t", folder / "d", *files, untrusted=folder / "u" if given.untrusted else None
    )


@pytest.mark.parametrize("case", SOUND)
def test_a_sound_stamp_is_believed_and_names_its_authority(bench: Bench, case: str) -> None:
    """An honest firm would pay an authority every day and have nothing to show for it (openssl agrees on
    every one).
    """
    given = SOUND[case](bench)
    assert openssl_believes(bench, given)
    said, notes = judged(given)
    assert said == "checked"
    assert (notes.faults, notes.remarks) == ([], [])
    assert [each.code for each in notes.unchecked] == ["stamp-ended"]
    roots = [each for pem in (*given.roots, given.untrusted) if pem for each in authority.certificates(pem)]
    (found,) = stamped_checkpoints.check(
        [TimeStampToken(SIZE, given.token)], ORIGIN, [(SIZE, ROOT)], roots, Notes()
    )
    assert found.authority == "CN=Stamp (example)"
    assert "signed by CN=Stamp (example), whose certificate leads to a root that you brought" in stamped(
        found
    )


@pytest.mark.parametrize("case", ALTERED)
def test_an_altered_stamp_is_a_fault(bench: Bench, case: str) -> None:
    """Somebody could lend a young record an old date (openssl refuses every one too)."""
    given = ALTERED[case](bench)
    assert not openssl_believes(bench, given)
    said, notes = judged(given)
    assert said == "fault"
    assert [(each.step, each.code) for each in notes.faults] == [(8, "token")]


@pytest.mark.parametrize("case", NOT_BELIEVED)
def test_a_stamp_that_rests_on_nothing_is_not_believed(bench: Bench, case: str) -> None:
    """Anybody can make an authority in a minute.

    Its word must never look like one that the auditor chose (openssl agrees).
    """
    made, why = NOT_BELIEVED[case]
    given = made(bench)
    assert not openssl_believes(bench, given)
    said, notes = judged(given)
    assert said == "not believed"
    assert notes.faults == []
    (remark,) = notes.remarks
    assert (remark.code, why in remark.sentence) == ("stamp-not-believed", True), remark.sentence


def test_an_issuer_for_other_purposes_is_not_believed(bench: Bench) -> None:
    """Whoever issues certificates for web sites could issue one for time stamps.

    Stricter than openssl 3.0 asks for; after CA/Browser Forum, Baseline Requirements 7.1.2 (constrained
    issuers), from memory.
    """
    said, notes = judged(below(bench, use=[Use.SERVER_AUTH]))
    assert said == "not believed"
    assert "does not lead to a root" in notes.remarks[0].sentence


def test_a_certificate_that_expired_since_does_not_spoil_an_old_stamp(bench: Bench) -> None:
    """A record would lose its date after a few years (RFC 3161, appendix B 4: what counts is the time of the
    stamp).
    """
    leaf = Certified("Stamp (example)", bench.root, use=STAMPS, days=(-400, -30))
    old, token = Authority.odd, bench.token
    at = timestamp.read(token).at
    then = at.replace(year=at.year - 1, day=min(at.day, 28))
    content = told_in(token).replace(f"{at:%Y%m%d%H%M%S}".encode(), f"{then:%Y%m%d%H%M%S}".encode())
    root = Certified("Root (example)", ca=True, days=(-4000, 30), key=bench.root.key)
    given = Given(old(bench.good, content, leaf), (root.pem,))
    told = judged(given)
    assert told[0] == "checked", told
    assert not openssl_believes(bench, given)  # it asks about today unless it is told -attime


def test_another_text_is_a_fault_whoever_signed(bench: Bench) -> None:
    """The stamp of another log, sound in itself, would vouch for this one."""
    said, notes = judged(own(bench.good, stamp(bench.good, TEXT.replace("log1", "log2"))))
    assert said == "fault"
    assert "over another text" in notes.faults[0].sentence
    assert not openssl_believes(bench, own(bench.good, stamp(bench.good, TEXT.replace("log1", "log2"))))


def test_the_stamp_of_an_auditor_s_file_is_checked_with_the_roots_brought(bench: Bench) -> None:
    """The roots an auditor brings, or the name of the log, would not reach the check, and each stamp be
    called false or open.
    """
    log = told("opened")
    size = len(log.log)
    token = stamp(bench.good, Checkpoint(log.origin, size, merkle.root(log.tiles, size)).body())
    file = replace(log.bundle(), tokens=(TimeStampToken(size, token),))
    roots = authority.certificates(bench.good.root.read_bytes())
    for brought, said in ((roots, "checked"), ((), "not checked")):
        found = verify(file, replace(log.trust(), stamp_roots=brought), AT)
        assert found.faults == ()
        assert [(each.size, each.signed) for each in found.stamps] == [(size, said)]


def test_without_a_root_nothing_is_said_to_be_checked(bench: Bench) -> None:
    """A green word without a check is what a forger hopes for."""
    notes = Notes()
    (found,) = stamped_checkpoints.check(
        [TimeStampToken(SIZE, bench.token)], ORIGIN, [(SIZE, ROOT)], [], notes
    )
    assert (found.signed, found.authority) == ("not checked", None)
    assert "not checked" in stamped(found)
    (unchecked,) = notes.unchecked
    assert unchecked.code == "tokens"
    assert "--stamp-root" in unchecked.sentence


def test_no_changed_byte_makes_a_stamp_say_something_else(bench: Bench) -> None:
    """What is signed could be stretched by what is not.

    Every byte of a token is changed in turn, and nothing but refusals may come.
    """
    token = bench.token
    sound = timestamp.read(token)
    roots = authority.certificates(bench.good.root.read_bytes())
    believed = 0
    for at in range(len(token)):
        changed = token[:at] + bytes([token[at] ^ 0x04]) + token[at + 1 :]
        try:
            stamp_ = timestamp.read(changed)
            name = authority.signed_by(stamp_, roots)
        except BaileeError:
            continue
        believed += 1
        assert (stamp_.at, stamp_.imprint, name) == (sound.at, sound.imprint, "CN=Stamp (example)")
    assert believed < len(token) / 20  # the few bytes that say nothing, like the version of the wrapping


def test_a_signature_in_an_unknown_way_is_named_and_not_judged(bench: Bench) -> None:
    """A stamp of tomorrow would be called forged by a program of today."""
    pss = bench.rsa.odd(
        told_in(stamp(bench.rsa)), Certified("Stamp (example)", bench.root, use=STAMPS), "-md", "sha1"
    )
    said, notes = judged(Given(pss, (bench.root.pem,)))
    assert said == "not checked"
    assert [each.code for each in notes.unchecked] == ["tokens"]
    assert "openssl" in notes.unchecked[0].sentence


def test_certificates_are_read_in_both_forms_and_nothing_else_is(bench: Bench) -> None:
    """An auditor would be told that a stamp is not believed, when it is the file that was wrong."""
    pem = bench.good.root.read_bytes()
    (der,) = authority.certificates(pem)
    assert authority.certificates(der) == (der,)
    assert authority.certificates(pem + bench.root.pem) == (der, bench.root.der)
    for text in (
        b"",
        b"hello",
        der[:-1],
        b"-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n",
        bench.good.folder.joinpath("ca.key").read_bytes(),
    ):
        with pytest.raises(Malformed) as refused:
            authority.certificates(text)
        assert refused.value.code == "stamp-root"
