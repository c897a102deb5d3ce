"""Every reader that meets bytes of strangers, and what to begin with.

A parser is a function of bytes. It may raise only what is in `bailee.errors`; where more was promised
(`verify` never raises), its function says so itself with `Broke`. Seeds are made here, from fixed keys, so
that they are never out of date; `corpus/<parser>/` holds what was found since.
"""

from __future__ import annotations

import atexit
import base64
import hashlib
import json
import shutil
import tempfile
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any, Final

from bailee.cosigning import folder as folders
from bailee.cosigning import request
from bailee.cosigning.cosigner import Cosigner
from bailee.cosigning.service import application
from bailee.disk.note_file import NoteFile
from bailee.domain import flow, measures, moments, numbers, policy_file, statements
from bailee.domain.acts import table
from bailee.domain.moments import Moment
from bailee.domain.opening_hours import calendar_file
from bailee.domain.opening_hours.calendars import Calendar
from bailee.domain.policy import Policy
from bailee.errors import BaileeError, Unavailable
from bailee.ledger import checkpoint as checkpoints
from bailee.ledger import ends, entry, merkle, proof
from bailee.ledger.base64url import unb64, unb64u
from bailee.ledger.checkpoint import format_vkey
from bailee.operations.publishing import cosignatures as cosigned
from bailee.operations.repair import from_tiles
from bailee.planning import sampling_plan, window_case
from bailee.signing import (
    access,
    cms,
    disclosures,
    key_proof,
    keys,
    notes,
    signed_statement,
    strict_json,
    timestamp,
    vkeys,
)
from bailee.signing import compact as compact_jws
from bailee.signing.keys import SigningKey
from bailee.store.database import Database
from bailee.verify import authority, bundle, cosigned_checkpoints, report_text, stamped_checkpoints
from bailee.verify import trust as policy
from bailee.verify import trust as trusts
from bailee.verify.bundle import TimeStampToken
from bailee.verify.evidence import Notes
from bailee.verify.log_audit import Audit
from bailee.verify.mirror import Mirror
from bailee.verify.page import report_page
from bailee.verify.verifier import verify
from bailee_cli.device import client, profile
from bailee_cli.people import administrator
from builders import CLERK, PEOPLE
from field import Field, make_home
from log_simulator import AT, ORIGIN, LogSimulator, seeded, told
from spoiling import cosigned as with_cosignatures
from spoiling import cosigner, cosigner_vkey, cosigners
from tiny_log import TinyLog

CORPUS: Final = Path(__file__).parent / "corpus"
NOW: Final = 1_796_133_600


class Broke(Exception):
    """A promise was broken by an error of our own tree: `verify` raised, a service answered 500."""


@dataclass(frozen=True)
class Parser:
    """`read` is given the bytes; `seeds` makes what to begin with."""

    read: Callable[[bytes], object]
    seeds: Callable[[], Iterable[bytes]]


PARSERS: Final[dict[str, Parser]] = {}


def parser(
    seeds: Callable[[], Iterable[bytes]],
) -> Callable[[Callable[[bytes], object]], Callable[[bytes], object]]:
    """Enter a parser under its name."""

    def enter(read: Callable[[bytes], object]) -> Callable[[bytes], object]:
        PARSERS[read.__name__] = Parser(read, seeds)
        return read

    return enter


def each(*readers: Callable[[], object]) -> None:
    """Ask several readers: the refusal of one keeps no other from reading."""
    for read in readers:
        with suppress(BaileeError):
            read()


def text_of(data: bytes) -> str:
    """Text as it may come out of JSON: any code points, half characters too."""
    return (
        data.decode("utf-8", "surrogatepass" if b"\xed" in data else "replace")
        if _speaks(data)
        else data.decode("latin-1")
    )


def _speaks(data: bytes) -> bool:
    try:
        data.decode("utf-8", "surrogatepass")
    except UnicodeDecodeError:
        return False
    return True


def _object(data: bytes) -> dict[str, Any]:
    """A case that is JSON for these programs, not for the product."""
    try:
        found = json.loads(data)
    except (ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


# What to begin with


@cache
def town(upto: str = "accepted") -> LogSimulator:
    """A visit, told once."""
    return told(upto)  # type: ignore[arg-type]


def claims() -> list[dict[str, Any]]:
    """The claims of one statement of each act."""
    found = {}
    for logged in town().log:
        read = signed_statement.read(logged.entry.stmt)
        found.setdefault(read.claims.act, read.claims.to_json())
    return list(found.values())


@cache
def folder(name: str) -> Path:
    """A folder that is gone at the end."""
    made = Path(tempfile.mkdtemp(prefix=f"bailee-fuzz-{name}-"))
    atexit.register(shutil.rmtree, made, ignore_errors=True)
    return made


def written(name: str, data: bytes) -> Path:
    """A file with these bytes."""
    path = folder(name) / "file"
    path.write_bytes(data)
    return path


def tile() -> bytes:
    """An entry tile."""
    return entry.pack(logged.text.encode() for logged in town("opened").log)


def a_note() -> str:
    """Signed and cosigned."""
    return with_cosignatures(town("opened").bundle(), "lab", "firm").note


# Text and JSON


@parser(lambda: [json.dumps(each).encode() for each in claims()[:6]])
def strict(data: bytes) -> None:
    """JSON that means one thing, and is written again."""
    each(lambda: strict_json.dumps(strict_json.loads(data)), lambda: strict_json.loads(text_of(data)))


@parser(lambda: [logged.entry.stmt.encode() for logged in town().log[::3]] + [_proof(), _token()])
def compact(data: bytes) -> None:
    """Statements, key proofs and access tokens."""
    text = text_of(data)
    key = seeded(CLERK.org, CLERK.name)
    each(
        lambda: signed_statement.open_with(signed_statement.read(text), key.public),
        lambda: key_proof.check(text, key.kid, key.public, CLERK.org, ORIGIN),
        lambda: access.read(text).verify(key.public, ORIGIN, NOW),
    )


def _proof() -> bytes:
    return key_proof.issue(seeded(CLERK.org, CLERK.name), CLERK.org, ORIGIN, NOW).encode()


def _token() -> bytes:
    return access.issue(seeded(CLERK.org, CLERK.name), CLERK.org, ORIGIN, NOW).encode()


@parser(lambda: [told.encode() for logged in town().log for told in logged.disclosures][:6])
def disclosure(data: bytes) -> None:
    """Private fields, whose digests somebody signed."""
    text = text_of(data)
    signed = [disclosures.b64u(hashlib.sha256(text.encode("utf-8", "surrogatepass")).digest())]
    each(
        lambda: disclosures.reveal([text], signed, ["kind"]),
        lambda: disclosures.reveal([text, text], signed, []),
    )


@parser(lambda: [json.dumps(each["data"]).encode() for each in claims()])
def act(data: bytes) -> None:
    """The data of every act, said or only drafted, and the policies and calendars in them."""
    found = strict_json.loads(data)
    if not isinstance(found, dict):
        return
    for kind, acts in table.ON_CHAIN.items():
        for name in acts:
            each(
                lambda kind=kind, name=name: statements.parse(f"{kind}/{_number(kind)}", name, found),  # type: ignore[misc]
                lambda kind=kind, name=name: statements.draft(kind, name, found, CLERK.org, CLERK.kid),  # type: ignore[misc]
            )
    each(
        lambda: Policy.from_data(found),
        lambda: Calendar.from_data(found),
        lambda: window_case.answer(window_case.read(found)),
        lambda: keys.public_bytes(found.get("jwk")),
    )


@cache
def _number(kind: str) -> str:
    return {"form": town("opened").form, "lot": next(iter(town("opened").lots)), "org": CLERK.org}[kind]


@parser(
    lambda: [
        b"2026-11-25T09:12:00-05:00",
        b"2026-11-25T14:00",
        b"2026-11",
        b"-05:00",
        b"15.0",
        b"25 %",
        b"1.5 m",
        b"America/Chicago",
        town("opened").form.encode(),
        b"F7K3 M9Q2 XF4P",
        b"AB-12345",
        b"harrow-field=" + b"A" * 43,
    ]
)
def typed(data: bytes) -> None:
    """What people type: times, numbers, measures, roots."""
    text = text_of(data)
    zones = ("America/Chicago", "Australia/Lord_Howe", "Pacific/Apia", "UTC")
    each(
        lambda: Moment.parse(text).text(),
        *(lambda zone=zone: Moment.in_zone(text, zone) for zone in zones),  # type: ignore[misc]
        lambda: moments.last_day(text),
        lambda: moments.parse_offset(text),
        lambda: moments.named_zone(text),
        lambda: numbers.read(text),
        lambda: numbers.read_seal(text),
        lambda: numbers.require(text, "form"),
        lambda: measures.parse_length(text),
        lambda: flow.read_fraction(text),
        lambda: flow.read(text, text, 600, text),
        lambda: trusts.root(text),
        lambda: merkle.read_tile_path(text),
    )


@parser(lambda: [format_vkey(key).encode() for key in (TinyLog().verifier, cosigner_vkey("lab"))])
def vkey(data: bytes) -> None:
    """Keys of logs and cosigners, typed and in settings."""
    text = text_of(data)
    each(
        lambda: vkeys.read_log(text),
        lambda: vkeys.read_cosigner(text),
        lambda: cosigned.configured([text, f"{text} https://a.example"], ORIGIN),
        lambda: trusts.brought([text], [text], None),
    )


def _policies() -> Iterable[bytes]:
    text = (
        f"# remark\nlog {format_vkey(town('opened').log_vkey)}\ncosigner lab"
        f" {format_vkey(cosigner_vkey('lab'))}\nquorum 1\n"
    )
    yield text.encode()


@parser(_policies)
def log_policy(data: bytes) -> None:
    """The auditor's policy."""
    policy.read(text_of(data))


@parser(
    lambda: [
        policy_file.write().encode()[:9000],
        b'hold_warn_h = 48\npump_limit_pct = "5"\n',
        b"[a]\nb = 1979-05-27\n",
    ]
)
def thresholds(data: bytes) -> None:
    """The policy of the rules, TOML."""
    policy_file.read(text_of(data))


@parser(lambda: [calendar_file.example(which, 2026).encode() for which in ("lab", "carrier")])
def calendar(data: bytes) -> None:
    """Calendars, TOML."""
    text = text_of(data)
    each(*(lambda which=which: calendar_file.read(which, text) for which in ("lab", "office", "carrier")))  # type: ignore[misc]


@parser(
    lambda: [
        (
            b'indoor = 3\nvisit_h = 2.5\nblanks = 1\n[[places]]\nname = "Cellar"\nvisible_growth ='
            b' true\nhours_a_day = 8\nreason = "baseline"\n'
        ),
        b'{"indoor": 2, "places": [{"name": "Hall", "hours_a_day": 1.5}]}',
    ]
)
def places(data: bytes) -> None:
    """Lists of places, TOML or JSON."""
    sampling_plan.read(text_of(data))


# The log


@parser(lambda: [logged.text.encode() for logged in town().log[::4]])
def log_entry(data: bytes) -> None:
    """Entries, alone and in the audit of a whole log."""
    text = text_of(data)
    each(lambda: entry.read(text))
    audit = Audit(ORIGIN)
    list(audit.read(data.decode("utf-8", "surrogateescape"), ["x"]))
    audit.root(1)


@parser(lambda: [tile(), entry.pack([b"", b"x"])])
def entry_tile(data: bytes) -> None:
    """Entry tiles, as answers and as files."""
    each(lambda: entry.unpack(data))
    where = folder("tile") / merkle.tile_path(None, 0, 5)
    where.parent.mkdir(parents=True, exist_ok=True)
    where.write_bytes(data)
    each(lambda: from_tiles(folder("tile"), 0, 5))


@parser(lambda: [a_note().encode(), town("opened").note().encode(), town("opened").bundle().ends.encode()])
def note(data: bytes) -> None:
    """Notes, checkpoints, ends, cosignatures: read, verified, weighed, told."""
    text = text_of(data)
    log_key = town("opened").log_vkey
    each(
        lambda: checkpoints.print_note(checkpoints.read_note(text)),
        lambda: checkpoints.parse(text),
        lambda: checkpoints.parse(checkpoints.read_note(text).text),
        lambda: notes.open_checkpoint(text, [log_key]),
        lambda: ends.read(checkpoints.read_note(text).text),
        lambda: notes.open_ends(text, [log_key]),
    )
    _never(
        lambda: cosigned_checkpoints.weigh(
            text, {"lab": cosigner_vkey("lab"), "firm": cosigner_vkey("firm")}, 1, Notes()
        ).sentence()
    )


@parser(lambda: [NOW.to_bytes(8, "big")])
def cosignature_time(data: bytes) -> None:
    """A cosignature that holds, at any time."""
    base = checkpoints.read_note(town("opened").note())
    time = int.from_bytes(data[:8], "big")
    key = cosigner_vkey("lab")
    made = cosigner("lab").sign(checkpoints.cosignature_message(time, base.text))
    line = checkpoints.NoteSignature(key.name, key.key_id, data[:8] + made)
    spoken = checkpoints.print_note(base.with_signatures([line]))
    file = replace(_small(), note=spoken)
    _judge(file, replace(town("opened").trust(), cosigners={"lab": key}, quorum=1))


@parser(
    lambda: [
        json.dumps(
            {
                "index": 3,
                "size": 7,
                "old": 3,
                "path": [base64.b64encode(bytes(32)).decode()] * 3,
                "leaf": base64.b64encode(bytes(32)).decode(),
            }
        ).encode()
    ]
)
def proofs(data: bytes) -> None:
    """Inclusion and consistency proofs."""
    found = strict_json.loads(data)
    index, size, old, path, leaf = (
        (found.get(name) for name in ("index", "size", "old", "path", "leaf"))
        if isinstance(found, dict)
        else (None,) * 5
    )
    if not (
        all(type(each) is int for each in (index, size, old))
        and isinstance(path, list)
        and isinstance(leaf, str)
    ):
        return
    hashes = [unb64(part) for part in path if isinstance(part, str)]
    each(
        lambda: proof.check_inclusion(unb64(leaf), index, size, hashes, unb64(leaf)),  # type: ignore[arg-type]
        lambda: proof.check_consistency(old, size, hashes, unb64(leaf), unb64(leaf)),  # type: ignore[arg-type]
    )


# Files of auditors


@cache
def _small() -> bundle.Bundle:
    return town("opened").bundle()


def _bundles() -> Iterable[bytes]:
    sound = _small()
    yield bundle.write(sound).encode()
    signed = sound.entries[-1]
    stmt = entry.read(signed.text).stmt
    pairs = ((stmt, stmt), (stmt, town().log[-1].entry.stmt))
    tokens = tuple(
        TimeStampToken(part.size, token) for part, token in zip(sound.earlier, _tokens(), strict=False)
    )
    yield bundle.write(replace(with_cosignatures(sound, "lab"), conflicts=pairs, tokens=tokens)).encode()


@parser(_bundles)
def file(data: bytes) -> None:
    """A whole file, as the command line and the page judge it."""
    _judge(bundle.read(data), cosigners(town("opened"), 1, "lab"))


def _judge(found: bundle.Bundle, trust: Any) -> None:
    """Never raises, and whatever is found can be told."""

    def told() -> None:
        judged = verify(found, trust, AT)
        json.dumps(judged.to_json())
        report_text.render_text(judged)
        report_page.render(judged)

    _never(told)


def _never(promised: Callable[[], object]) -> None:
    try:
        promised()
    except BaileeError as error:
        raise Broke(f"{type(error).__name__} {error.code}: {error.sentence}") from error


def _acts() -> Iterable[bytes]:
    for each in claims():
        if each["act"] not in ("founded", "enrolled"):
            yield json.dumps({**each, "by": CLERK.name}).encode()


@parser(_acts)
def signed_act(data: bytes) -> None:
    """A statement whose signature holds and whose claims are anybody's, logged by an operator who lets it
    through: fold and rules.
    """
    found = strict_json.loads(data)
    if not isinstance(found, dict):
        return
    names = {person.name: person for person in PEOPLE}
    person = names.get(str(found.pop("by", "")), CLERK)
    base = town("shipped" if len(data) % 2 else "accepted")
    # A copy as cheap as can be: what is shared is never changed in place.
    copy = object.__new__(LogSimulator)
    copy.__dict__.update(base.__dict__)
    copy.log, copy.tiles = list(base.log), type(base.tiles)()
    copy.tiles._rows = dict(base.tiles._rows)
    copy.devices = {name: replace(device) for name, device in base.devices.items()}
    chain = str(found.get("sub", f"form/{base.form}"))
    device = copy.device(person)
    found = {
        **found,
        "iss": person.org,
        "aud": ORIGIN,
        "seq": device.seq + 1,
        "prev": device.prev,
        "after": None,
        "seen": None,
    }
    found = {name: value for name, value in found.items() if name not in ("_sd", "_sd_alg", "seen")}

    text = compact_jws.write(device.key, signed_statement.TYP, found)
    if chain.split("/", maxsplit=1)[0] == "form":
        chain = f"form/{base.form}"
    copy.append(chain, text)
    _judge(copy.bundle(), copy.trust())


# Time stamps: ours, made once by openssl's `ts` under a throwaway authority (`tests/authority.py`) and kept
# in the corpus


def _tokens() -> list[bytes]:
    return [path.read_bytes() for path in sorted((CORPUS / "stamp").glob("made-*"))]


@cache
def _roots() -> tuple[bytes, ...]:
    return tuple(path.read_bytes() for path in sorted((CORPUS / "certificate").glob("made-*")))


@parser(_tokens)
def stamp(data: bytes) -> None:
    """Tokens and replies: DER, CMS, the signature and the path to a root."""

    def signed() -> None:
        authority.signed_by(timestamp.read(data), _roots())

    each(lambda: timestamp.token_in(data), lambda: timestamp.read(data), signed, lambda: cms.read(data))
    earlier = [(part.size, part.root) for part in _small().earlier]
    _never(
        lambda: stamped_checkpoints.check(
            [TimeStampToken(earlier[0][0], data)], ORIGIN, earlier, _roots(), Notes()
        )
    )


@parser(_roots)
def certificate(data: bytes) -> None:
    """Certificates that an auditor was sent, as a root and beside a token."""
    each(lambda: authority.certificates(data), lambda: cms.name_of(data))
    tokens = _tokens()
    if tokens:
        try:
            roots = authority.certificates(data)
        except BaileeError:
            return
        each(lambda: authority.signed_by(timestamp.read(tokens[0]), roots))


# Files on a device


@parser(lambda: [SigningKey.from_seed(bytes(32)).pem()])
def key_file(data: bytes) -> None:
    """Key files; the slow passphrase only now and then."""
    each(lambda: SigningKey.from_pem(data))
    if not data.startswith(b"Argon2id") or len(data) % 64 == 0:
        each(lambda: SigningKey.from_pem(data, "word"))


@parser(
    lambda: [
        json.dumps(
            {
                "kid": "A" * 43,
                "jwk": SigningKey.from_seed(bytes(32)).jwk,
                "organization": CLERK.org,
                "origin": ORIGIN,
                "proof": _proof().decode(),
            }
        ).encode()
    ]
)
def enrollment_request(data: bytes) -> None:
    """What a new colleague mails."""
    session: Any = SimpleNamespace(profile=profile.Profile("https://a.example", ORIGIN, "", CLERK.org))
    administrator.read_request(session, written("request", data))


@parser(lambda: [b'service = "https://a.example"\norigin = "o"\nlog_key = "k"\norg = "harrow-field"\n'])
def profile_file(data: bytes) -> None:
    """A profile that came with a folder from somewhere."""
    (folder("profile") / "profile.toml").write_bytes(data)
    profile.load(folder("profile"))


@parser(lambda: [f'name = "quill.example/c"\nlogs = ["{format_vkey(TinyLog().verifier)}"]\n'.encode()])
def cosigner_folder(data: bytes) -> None:
    """A cosigner's settings."""
    where = folder("cosigner-folder")
    (where / "cosigner.key").write_bytes(SigningKey.from_seed(bytes(32)).pem())
    (where / "cosigner.toml").write_bytes(data)
    folders.load(where)


@parser(lambda: [json.dumps(a_note()).encode() + b"\n"])
def high_water(data: bytes) -> None:
    """The high-water file."""
    NoteFile(written("high-water", data)).newest()


# Others over the network


@parser(lambda: [TinyLog().ask(0, 3), TinyLog().ask(3, 8)])
def cosigner_request(data: bytes) -> None:
    """POST /add-checkpoint, as a stranger sends it: the status is one of the protocol's, and never an
    exception.
    """
    log = TinyLog()
    where = folder("cosigner")
    shutil.rmtree(where / "seen", ignore_errors=True)
    service = application(Cosigner(where, "quill.example/c", cosigner("quill"), [log.verifier]), lambda: NOW)
    for method, path, query in (
        ("POST", request.PATH, ""),
        ("GET", request.NEWEST, "origin=" + data[:200].decode("latin-1")),
    ):
        said: list[str] = []
        environment: dict[str, Any] = {
            "REQUEST_METHOD": method,
            "PATH_INFO": path,
            "QUERY_STRING": query,
            "CONTENT_LENGTH": str(len(data)),
            "wsgi.input": BytesIO(data),
        }
        list(service(environment, lambda status, _, said=said: said.append(status)))  # type: ignore[arg-type,misc]
        if said[0][:3] not in {"200", "400", "403", "404", "409", "422"}:
            raise Broke(f"{path} answered {said[0]}")


def _answers() -> Iterable[bytes]:
    text = town("opened").note()
    line = notes.print_line(
        notes.cosign(checkpoints.read_note(text).text, cosigner_vkey("lab").name, cosigner("lab"), NOW)
    )
    for status, said, shown in ((200, line, ""), (409, "3\n", text), (422, "no", "")):
        yield json.dumps({"status": status, "text": said, "shown": shown}).encode()


@parser(_answers)
def cosigner_answer(data: bytes) -> None:
    """What a cosigner answers to the log that asks it."""
    found = _object(data)
    text, shown = str(found.get("text")), str(found.get("shown"))
    status = found.get("status")
    base = field()
    told = base.ledger.cosigners
    told._post = lambda *_: (status if type(status) is int else 409, text)
    told._get = lambda *_: (200, shown)
    told._cosigners[0].next_try, told._cosigners[0].size = 0.0, 0
    told.round()
    each(lambda: told.accept(text), lambda: told.accept(shown), lambda: cosigned._size(text))


@parser(
    lambda: [json.dumps({"note": _mirrored(), "tile": base64.b64encode(_mirrored_tile()).decode()}).encode()]
)
def mirror(data: bytes) -> None:
    """What a log shows to its monitor."""
    found = strict_json.loads(data)
    if not (
        isinstance(found, dict) and isinstance(found.get("note"), str) and isinstance(found.get("tile"), str)
    ):
        return
    content = unb64(found["tile"])
    where = folder("mirror")
    shutil.rmtree(where, ignore_errors=True)
    where.mkdir()
    Mirror(where, town("opened").log_vkey).round(found["note"], lambda _: content)


def _mirrored() -> str:
    return town("opened").note()


def _mirrored_tile() -> bytes:
    return tile()


@parser(
    lambda: [
        json.dumps(
            {"detail": "no", "code": "x", "now": "2026-12-01T00:00:00Z", "errors": [{"at": "/", "says": "x"}]}
        ).encode()
    ]
)
def problem(data: bytes) -> None:
    """A refusal by something that calls itself a ledger."""
    from datetime import UTC, datetime

    told = client._json_of(SimpleNamespace(json=lambda: json.loads(data)))
    for status in (400, 404, 409, 422, 500):
        str(client.problem(status, told))
    client.skew_of({"Ledger-Time": told.get("now")}, datetime(2026, 12, 1, tzinfo=UTC))


# Requests


@cache
def _visited() -> tuple[tuple[str, str, list[str], str], str]:
    """A second visit before that service, which is about to be attacked; and one more lot."""
    return field().faultless(), field().lot(1)[0]


@cache
def field() -> Field:
    """A service with people before it, and a cosigner."""
    home = folder("field")
    url = f"sqlite:///{home / 'ledger.sqlite'}"
    database = Database(url)
    database.migrate()
    database.close()
    made = Field(
        make_home(home / "home", url, cosigners=(f"{format_vkey(cosigner_vkey('lab'))} https://lab.example",))
    )
    made.faultless()

    def nobody(*_: object) -> tuple[int, str]:
        raise Unavailable("nobody is there", code="cosigner")

    made.ledger.cosigners._post = made.ledger.cosigners._get = nobody
    made.ledger.sequencer.integrate()
    return made


@cache
def _thrown() -> list[BaseException]:
    """What the service would have answered 500 for."""
    thrown: list[BaseException] = []
    handlers = field().app.error_handler_spec[None][None]
    was = handlers[Exception]

    def unexpected(error: Exception) -> Any:
        thrown.append(error)
        return was(error)

    handlers[Exception] = unexpected
    return thrown


def _requests() -> Iterable[bytes]:
    base = field()
    sample = json.dumps
    (form_number, envelope, samples, _), lot = _visited()
    known = {
        "form": form_number,
        "lot": lot,
        "org": "harrow-field",
        "sample": samples[0],
        "number": samples[0],
        "envelope": envelope,
    }
    for rule in sorted(base.app.url_map.iter_rules(), key=lambda rule: rule.rule):
        path = rule.rule
        for name in rule.arguments:
            converter = type(rule._converters[name]).__name__
            path = path.replace(
                next(part for part in _parts(path) if part.endswith((f":{name}>", f"<{name}>"))),
                "1" if converter == "IntegerConverter" else str(known.get(name, "x1")),
            )
        for method in sorted((rule.methods or set()) - {"HEAD", "OPTIONS"}):
            operation = getattr(base.app.view_functions[rule.endpoint], "operation", None)
            query = dict.fromkeys(operation.query.model_fields, "1") if operation and operation.query else {}
            body = _body(operation.body) if operation and operation.body else None
            yield sample(
                {"method": method, "path": path, "query": query, "who": "inspector", "body": body}
            ).encode()
    form = f"form/{form_number}"
    for read in claims()[:12]:
        sub = (
            form
            if read["sub"].startswith("form/")
            else f"lot/{lot}"
            if read["sub"].startswith("lot/")
            else "org/harrow-field"
        )
        yield sample(
            {
                "method": "POST",
                "path": "/entries",
                "who": "clerk",
                "sign": {"sub": sub, "act": read["act"], "data": read["data"]},
            }
        ).encode()


def _parts(path: str) -> list[str]:
    import re

    return re.findall(r"<[^<>]+>", path)


def _body(model: Any) -> Any:
    """Something of the right shape, from the schema."""
    schema = model.model_json_schema()
    definitions = schema.get("$defs", {})

    def made(part: Mapping[str, Any], depth: int = 0) -> Any:  # noqa: PLR0911 - a type each
        if "$ref" in part:
            return made(definitions[part["$ref"].rpartition("/")[2]], depth + 1)
        if "anyOf" in part:
            return made(part["anyOf"][0], depth + 1)
        if "enum" in part:
            return part["enum"][0]
        match part.get("type"):
            case "object":
                return (
                    {name: made(inner, depth + 1) for name, inner in part.get("properties", {}).items()}
                    if depth < 6
                    else {}
                )
            case "array":
                return [made(part.get("items", {}), depth + 1)]
            case "integer":
                return 1
            case "boolean":
                return True
            case "number":
                return 1
        return "x"

    return made(schema)


@parser(_requests)
def http_request(data: bytes) -> None:
    """Any request to any operation: an answer, and never one that says the service erred."""
    asked = _object(data)
    if not asked:
        return
    base, thrown = field(), _thrown()
    thrown.clear()
    who = base.people.get(str(asked.get("who")))
    headers = dict(who.bearer) if who else {"Authorization": _header(asked.get("who"))}
    path = "/" + str(asked.get("path")).lstrip("/").encode("utf-8", "replace").decode()
    query = asked.get("query")
    more: dict[str, Any] = (
        {
            "query_string": {
                str(k).encode("utf-8", "replace").decode(): str(v).encode("utf-8", "replace").decode()
                for k, v in query.items()
            }
        }
        if isinstance(query, dict)
        else {}
    )
    body: Any = asked.get("body")
    signing = asked.get("sign")
    if who and isinstance(signing, dict) and isinstance(signing.get("data"), dict):
        kept = (who.seq, who.prev)
        try:
            body = who.sign(str(signing.get("sub")), str(signing.get("act")), signing["data"], after=None)
        except BaileeError:
            who.seq, who.prev = kept
            return
    if body is not None:
        raw = body if isinstance(body, str) else json.dumps(body)
        more |= {"data": raw.encode("utf-8", "surrogatepass"), "content_type": "application/json"}
    method = str(asked.get("method"))
    answer = base.client.open(path, method=method if method in _METHODS else "GET", headers=headers, **more)
    answer.get_data()
    answer.close()
    if thrown:
        raise thrown[0]
    if answer.status_code == 500:
        raise Broke(f"{method} {path} answered 500: {answer.text[:300]}")


_METHODS: Final = frozenset({"GET", "POST", "PUT", "DELETE", "PATCH", "HEAD", "OPTIONS"})


def _header(value: object) -> str:
    return str(value).encode("latin-1", "replace").decode("latin-1").replace("\n", " ").replace("\r", " ")


assert unb64u("") == b""
