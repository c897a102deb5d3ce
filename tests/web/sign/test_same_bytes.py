"""What a phone signs is, byte for byte, what a terminal would have signed, and each reads what the other
wrote.

A browser writes with its own JSON, base64, SHA-256 and Ed25519; Python with cryptography's. Both against one
another over seeded random cases, and where one is published against a vector (RFC 7638, 8032, 9162, 9901;
ISO/IEC 7064 as `tests/domain/test_numbers.py` holds the Python side to it).
"""

from __future__ import annotations

import base64
import random
import string
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import pytest

from bailee.asking import hand_over_slips, office_slips, opening_slips, run_slips, slips, visit_slips, written
from bailee.asking.slip import Slip, VisitSoFar
from bailee.domain import corrections, measures, numbers, statements
from bailee.domain.acts.table import ROWS
from bailee.domain.lots import freshness
from bailee.domain.moments import Moment
from bailee.domain.policy import Policy
from bailee.errors import BadNumber, BadStatement, BaileeError
from bailee.ledger import entry as entries
from bailee.ledger import fingerprint, merkle, proof
from bailee.ledger.base64url import b64u, unb64u
from bailee.ledger.checkpoint import Checkpoint, format_vkey
from bailee.signing import access, compact, disclosures, key_proof, notes, signed_statement, strict_json
from bailee.signing.keys import SigningKey
from bailee.signing.signed_statement import Claims, Seen
from bailee.web import vocabulary
from bailee_cli.people import courier, deciding
from bailee_cli.signing import pictures
from bailee_cli.terminal.options import present
from domain.test_statements import FORM, LEAST
from thorough import often

if TYPE_CHECKING:
    from pathlib import Path

    from conftest import Modules

pytestmark = pytest.mark.slow

KEY = SigningKey.from_seed(b"phone".ljust(32, b"."))
DEVICE = {"org": "harrow-field", "origin": "ledger.example/test", "kid": KEY.kid}
PAIR = """
const pair = async (m, seed) => {
  const head = [48,46,2,1,0,48,5,6,3,43,101,112,4,34,4,32];
  const pkcs8 = new Uint8Array([...head, ...Array.from(atob(seed), c => c.charCodeAt(0))]);
  return crypto.subtle.importKey("pkcs8", pkcs8, {name: "Ed25519"}, false, ["sign"]);
};
"""
SEED = base64.b64encode(b"phone".ljust(32, b".")).decode()
LETTERS = (
    string.ascii_letters + string.digits + ' "\\/\b\f\n\r\t\x01\x1f\x7f<&>é\u2028\u2029\ufeffﬀ中😀\U0010ffff'
)


def text(chance: random.Random) -> str:
    """A text with whatever JSON writers disagree about."""
    return "".join(chance.choice(LETTERS) for _ in range(chance.randrange(12)))


def value(chance: random.Random, depth: int = 0) -> Any:
    """A value of strict JSON."""
    kind = chance.randrange(7 if depth < 4 else 5)
    if kind == 5:
        return [value(chance, depth + 1) for _ in range(chance.randrange(4))]
    if kind == 6:
        return {text(chance): value(chance, depth + 1) for _ in range(chance.randrange(5))}
    plain = (None, True, text(chance), chance.randrange(-(2**53) + 1, 2**53), chance.randrange(-9, 10))
    return plain[kind]


def test_json_is_written_alike(modules: Modules) -> None:
    """One blank or one escape more, and the ledger refuses what a person signed in a basement (RFC 8785 asks
    for the same of a canonical writer; ours sorts by code point).
    """
    chance = random.Random(1)
    cases = [value(chance) for _ in range(often(400, thorough=2000))]
    written = modules.call("core/json.js", "canonical", [[each] for each in cases])
    assert written == [strict_json.dumps(each).decode() for each in cases]
    for each in written:
        strict_json.loads(each)


@pytest.mark.parametrize("body", ["1.5", "1e400", "2**53", "'\\ud800'", "'\\0'", "undefined", "NaN", "-0"])
def test_what_strict_json_cannot_hold_is_not_signed(modules: Modules, body: str) -> None:
    """A text that other readers read otherwise must not get a signature (RFC 7493 2.1, 2.2)."""
    said = modules.run(
        "core/json.js", f"m => {{ try {{ return m.canonical({body}); }} catch (e) {{ return null; }} }}"
    )
    assert said is None


def claims_of(chance: random.Random) -> Claims:
    """Random claims of any length and kind."""

    def digest() -> str:
        return b64u(chance.randbytes(32))

    data = {text(chance): value(chance) for _ in range(chance.randrange(6))}
    return Claims(
        iss="harrow-field",
        aud="ledger.example/test",
        sub="form/F0000000000X",
        act=chance.choice(["opened", "collected", "held"]),
        iat=chance.randrange(2**32),
        tzo=chance.choice(["-05:00", "+00:00", "+05:45"]),
        seq=chance.randrange(1, 2**40),
        prev=chance.choice([None, digest()]),
        after=chance.choice([None, digest()]),
        data=data,
        refs=tuple(digest() for _ in range(chance.randrange(3))),
        seen=chance.choice([None, Seen(chance.randrange(2**40), digest())]),
        private=tuple(digest() for _ in range(chance.randrange(4))),
        skew=chance.choice([0, 0, 60, -1200, chance.randrange(1, 10**10)]),
    )  # fmt: skip


def test_a_statement_is_signed_to_the_same_text(modules: Modules) -> None:
    """Header, claims and signature, as RFC 8032 makes it: whichever of the two signed, one
    text stands there.
    """
    chance = random.Random(2)
    said = [claims_of(chance) for _ in range(often(300, thorough=1500))]
    asked = [
        {
            "place": {
                "seq": c.seq,
                "prev": c.prev,
                "after": c.after,
                "seen": {"root": c.seen.root, "size": c.seen.size} if c.seen else None,
            },
            "said": {
                "chain": c.sub, "act": c.act, "data": dict(c.data), "refs": list(c.refs),
                "private": list(c.private), "iat": c.iat, "tzo": c.tzo, "skew": c.skew,
            },
        }
        for c in said
    ]  # fmt: skip
    body = f"""async (m, [seed, device, all]) => {{ {PAIR}
        const key = await pair(m, seed);
        return Promise.all(all.map(each => m.writeStatement(key, device, each.place, each.said)));
    }}"""
    written = modules.run("core/statement.js", body, [SEED, DEVICE, asked])
    for found, claims in zip(written, said, strict=True):
        assert found == compact.write(KEY, signed_statement.TYP, claims.to_json())
        opened = signed_statement.open_with(signed_statement.read(found), KEY.public)
        assert opened.claims.seq == claims.seq
    read = modules.call("core/statement.js", "claimsOf", [[each] for each in written[:200]])
    assert read == [each.to_json() for each in said[:200]]


def test_what_is_too_long_for_an_entry_is_not_signed(modules: Modules) -> None:
    """Its counter would be used up by a text that no ledger takes."""
    body = f"""async (m, [seed, device]) => {{ {PAIR}
        const place = {{ seq: 1, prev: null, after: null, seen: null }};
        const data = {{ note: "x".repeat(13000) }};
        const said = {{ chain: "form/F", act: "held", data, iat: 1, tzo: "+00:00" }};
        try {{ return await m.writeStatement(await pair(m, seed), device, place, said); }}
        catch (e) {{ return null; }}
    }}"""
    assert modules.run("core/statement.js", body, [SEED, DEVICE]) is None


def test_private_fields_are_concealed_alike(modules: Modules) -> None:
    """A name whose digest does not fit could never be shown to an auditor (RFC 9901 4.2)."""
    chance = random.Random(3)
    fields = [
        {name: text(chance) for name in chance.sample(["client", "site", "note", "place", "contact"], 3)}
        for _ in range(often(100, thorough=500))
    ]
    salt = base64.b64encode(bytes(range(16))).decode()
    body = """(m, [salt, all]) => Promise.all(all.map(each =>
        m.conceal(each, () => Uint8Array.from(atob(salt), c => c.charCodeAt(0)))))"""
    written = modules.run("core/statement.js", body, [salt, fields])
    for told, said in zip(written, fields, strict=True):
        kept = {name: each for name, each in said.items() if each}
        texts = [
            b64u(strict_json.dumps([b64u(bytes(range(16))), name, each]))
            for name, each in sorted(kept.items())
        ]
        assert told["texts"] == texts
        assert told["digests"] == [disclosures.digest(each) for each in texts]
        assert disclosures.reveal(told["texts"], told["digests"], ()) == kept


def test_tokens_proofs_and_names_of_keys_are_alike(modules: Modules) -> None:
    """Who cannot say who they are is shown nothing, and nobody can let them in (RFC 7638, RFC 7519)."""
    body = f"""async (m, [seed, device]) => {{ {PAIR}
        const key = await pair(m, seed);
        return [await m.token(key, device, 1764600000), await m.keyProof(key, device, 1764600000)];
    }}"""
    token, proof_text = modules.run("core/statement.js", body, [SEED, DEVICE])
    assert token == access.issue(KEY, DEVICE["org"], DEVICE["origin"], 1764600000)
    assert proof_text == key_proof.issue(KEY, DEVICE["org"], DEVICE["origin"], 1764600000)
    named = modules.run(
        "core/statement.js",
        """async (m, x) => m.nameOf(await crypto.subtle.importKey("raw",
            Uint8Array.from(atob(x), c => c.charCodeAt(0)), {name: "Ed25519"}, true, ["verify"]))""",
        base64.b64encode(KEY.public).decode(),
    )
    assert named == {"jwk": KEY.jwk, "kid": KEY.kid}
    assert modules.call("core/fingerprint.js", "lines", [[KEY.kid]]) == [
        list(fingerprint.lines(unb64u(KEY.kid)))
    ]


def test_base64_has_one_spelling(modules: Modules) -> None:
    """A proof that is read in two ways is two proofs (RFC 4648 3.5)."""
    chance = random.Random(4)
    good = [b64u(chance.randbytes(n)) for n in range(60)]
    bad = ["A", "AB", "AAB", "A=", "AA==", "AA+A", "AA A", "AAA\n"]
    read = modules.run(
        "core/bytes.js",
        "(m, all) => all.map(t => { try { return [...m.unb64u(t)]; } catch { return null; } })",
        good + bad,
    )
    assert read[: len(good)] == [list(unb64u(each)) for each in good]
    assert read[len(good) :] == [None] * len(bad)


def python_number(typed: str, kind: str | None) -> str | None:
    """What Python reads, or nothing."""
    try:
        return numbers.read(typed, kind)  # type: ignore[arg-type]
    except BaileeError:
        return None


def test_numbers_are_read_alike(modules: Modules) -> None:
    """A swap of two characters that one of them lets pass is another cassette."""
    chance = random.Random(5)
    cases: list[list[Any]] = []
    for _ in range(often(500, thorough=2500)):
        kind = chance.choice(list(numbers.LETTERS))
        typed = list(numbers.issue(kind, chance.choice))
        change = chance.randrange(6)
        at = chance.randrange(11)
        if change == 1:
            typed[at] = chance.choice(LETTERS)
        elif change == 2:
            typed[at], typed[at + 1] = typed[at + 1], typed[at]
        elif change == 3:
            del typed[at]
        elif change == 4:
            typed = list("".join(typed).lower().replace("1", "l").replace("0", "o"))
        elif change == 5:
            typed = list(f"HTTPS://LEDGER.EXAMPLE/{typed[0]}/{numbers.grouped(''.join(typed))}/")
        cases.append(["".join(typed), chance.choice([None, kind, "sample"])])
    found = modules.call("core/numbers.js", "read", cases)
    for case, each in zip(cases, found, strict=True):
        wanted = python_number(*case)
        assert (each if isinstance(each, str) else None) == wanted, (case, each)
    swapped = [
        each["facts"]["perhaps"] for each in found if isinstance(each, dict) and each["error"] == "swapped"
    ]
    assert swapped
    assert all(python_number(each, None) for each in swapped)


def test_numbers_that_a_phone_issues_check(modules: Modules) -> None:
    """A form under a number that no label printer and no ledger reads."""
    issued = modules.call(
        "core/numbers.js", "issue", [[kind] for kind in numbers.LETTERS for _ in range(100)]
    )
    assert len(set(issued)) == len(issued)
    for each in issued:
        assert numbers.read(each, numbers.kind_of(each)) == each


def test_volumes_are_reckoned_alike(modules: Modules) -> None:
    """A phone that shows 74.74 where the record prints 74.75 makes an inspector distrust both."""
    chance = random.Random(6)
    cases = []
    for _ in range(often(400, thorough=2000)):
        flows = [
            f"{chance.randrange(20)}.{chance.randrange(10**p):0{p}d}" for p in chance.choices([1, 2, 3], k=2)
        ]
        cases.append([flows[: chance.choice([1, 2])], chance.randrange(86_400)])
    shown = modules.call("core/measures.js", "volume", cases)
    for (flows, run_s), found in zip(cases, shown, strict=True):
        mean = measures.mean_flow(Decimal(flows[0]), Decimal(flows[-1]))
        assert found == str(measures.rounded(measures.volume_liters(mean, Decimal(run_s)), 2)), (flows, run_s)


def test_decimals_are_read_alike(modules: Modules) -> None:
    """14,8 is 14.8 on both; 14,800 may be thousands, and must be asked back on both."""
    chance = random.Random(14)
    cases = [
        "14,8",
        "14.800",
        "14,800",
        "1",
        "-1",
        "1,",
        ",5",
        "1.2.3",
        "1234567",
        "",
        "1e3",
        "14,80",
        "0,1234567",
    ]
    cases += [
        f"{chance.randrange(99)}{chance.choice('.,')}{chance.randrange(9999)}"
        for _ in range(often(60, thorough=300))
    ]
    found = modules.call("core/measures.js", "decimalText", [[each] for each in cases])
    for case, each in zip(cases, found, strict=True):
        try:
            wanted: Any = written.decimal(case)
        except BaileeError:
            wanted = {"error": "number", "facts": None}
        assert each == wanted, case


def test_lengths_are_read_alike(modules: Modules) -> None:
    """Four feet and 1.2 m must not become each other, whoever reckons (the international foot, exactly)."""
    chance = random.Random(7)

    def figure() -> str:
        return chance.choice(
            ["0", "4", "36", "5.5", "0.91", "1.8288", f"{chance.randrange(999)}.{chance.randrange(99)}"]
        )

    shapes = (
        "{} m",
        "{}cm",
        "{} ft",
        "{}'",
        '{}"',
        "{} in",
        "{} ft {} in",
        "{}'{}\"",
        "{}",
        "{} yd",
        "ft",
        "-1 m",
    )
    cases = [chance.choice(shapes).format(figure(), figure()) for _ in range(often(200, thorough=1000))]
    found = modules.call("core/measures.js", "meters", [[each] for each in cases])
    for case, each in zip(cases, found, strict=True):
        try:
            wanted: Any = f"{measures.rounded(measures.parse_length(case), 4).normalize():f}"
        except BaileeError:
            wanted = {"error": "length", "facts": None}
        assert each == wanted, case


def test_temperatures_are_read_alike(modules: Modules) -> None:
    """An inspector reads Fahrenheit; reckoned in the head, 70 is 20 or 22 (exactly 5/9)."""
    chance = random.Random(31)
    units = ("", " C", "C", " F", "f", "°F", " degrees F", " deg C", " K", "F F")
    figures = ("70", "68", "-4", "98.6", "21,5", "32", "0", "1,000", "7.", "--1", "", "104.05")
    cases = [f"{chance.choice(figures)}{chance.choice(units)}" for _ in range(often(200, thorough=600))]
    pressures = (
        "",
        " hPa",
        "hpa",
        " mbar",
        "mb",
        " kPa",
        "KPA",
        " inHg",
        "in. Hg",
        " in hg",
        " psi",
        "inHginHg",
    )
    figures = ("1013", "29.9", "29,92", "101.3", "0", "1,013", "30.", "--1", "", "-3", "28.865", "0.05")
    barometers = [
        f"{chance.choice(figures)}{chance.choice(pressures)}" for _ in range(often(200, thorough=600))
    ]
    for name, read, all_cases in (
        ("celsius", written.degrees_celsius, cases),
        ("hectopascals", written.hectopascals, barometers),
    ):
        found = modules.call("core/air.js", name, [[each] for each in all_cases])
        for case, each in zip(all_cases, found, strict=True):
            try:
                wanted = read(case)
            except BaileeError:
                assert "error" in each, case
            else:
                assert each == wanted, case
    words = modules.run("screens/words.js", "(m, all) => all.map(m.words.warmth)", ["21.5", "-10", "20.0"])
    assert words == [measures.warmth_text(Decimal(each)) for each in ("21.5", "-10", "20.0")]


def test_a_length_is_shown_in_the_unit_in_which_it_was_typed(modules: Modules) -> None:
    """Feet come back as meters, and an inspector corrects 1.2192 into 4 (the international foot, exactly)."""
    typed = {
        "4 ft": "4 ft",
        "5'6\"": "5 ft 6 in",
        "3 in": "3 in",
        "47.25 in": "3 ft 11.25 in",
        "36 in": "3 ft",
    }
    typed |= {"0.5 ft": "6 in", "1.2 m": "1.2 m", "91 cm": "0.91 m", "0.9144 m": "3 ft", "0 m": "0 m"}
    meters = modules.call("core/measures.js", "meters", [[each] for each in typed])
    shown = modules.call("core/measures.js", "lengthText", [[each] for each in meters])
    assert dict(zip(typed, shown, strict=True)) == typed
    assert modules.call("core/measures.js", "meters", [[each] for each in shown]) == meters
    words = modules.run(
        "screens/words.js",
        "(m, all) => all.map(m.words.length)",
        ["1.2192", "1.20", "0.0762", 0.9144, "5.0001"],
    )
    assert words == [
        "4 ft (1.22 m)",
        "1.2 m (3.94 ft)",
        "3 in (0.08 m)",
        "3 ft (0.91 m)",
        "5.0001 m (16.4 ft)",
    ]


def test_times_are_written_alike(modules: Modules) -> None:
    """An hour off where the clocks change, and a run seems to have ended before it began (tz database)."""
    chance = random.Random(8)
    zones = (
        "America/New_York",
        "America/Chicago",
        "Europe/Berlin",
        "Asia/Kathmandu",
        "Australia/Lord_Howe",
        "UTC",
    )
    cases = [
        [chance.randrange(1_600_000_000, 1_900_000_000) * 1000, chance.choice(zones)]
        for _ in range(often(300, thorough=1500))
    ]
    # Both sides of a change: 2026-03-08 07:00 UTC and 2026-11-01 06:00 UTC in New York.
    cases += [[(at + s) * 1000, zones[0]] for at in (1_772_953_200, 1_793_512_800) for s in (-1, 0, 1)]
    found = modules.call("core/moments.js", "at", cases)
    from datetime import UTC, datetime

    for (ms, zone), each in zip(cases, found, strict=True):
        assert each == Moment.shown_in(datetime.fromtimestamp(ms // 1000, UTC), zone).text(), (ms, zone)


def test_a_log_that_goes_on_is_believed_and_no_other(modules: Modules) -> None:
    """A phone is a small witness: it must see that entries were taken away or exchanged
    (RFC 9162 2.1.4.2).
    """
    leaves = [entries.leaf_hash(bytes([n])) for n in range(40)]
    roots, tiles = [merkle.EMPTY_ROOT], _Rows()
    for n, leaf in enumerate(leaves):
        tiles.put(merkle.grow(tiles, n, [leaf]))
        roots.append(merkle.root(tiles, n + 1))
    chance, cases, wanted = random.Random(9), [], []
    for old in range(41):
        for new in range(old, 41):
            path = merkle.consistency_path(tiles, old, new)
            before, now = {"size": old, "root": roots[old]}, {"size": new, "root": roots[new]}
            if chance.randrange(2) and old and new > old:
                spoilt = chance.randrange(3)
                if spoilt == 0:
                    now["root"] = roots[new - 1]
                elif spoilt == 1 and path:
                    path = path[:-1]
                else:
                    path = [*path, leaves[0]]
            cases.append([before, now, path])
            wanted.append(_continues(before, now, path))
    asked = [
        [*({"size": s["size"], "root": b64u(s["root"])} for s in (b, n)), [list(each) for each in p]]
        for b, n, p in cases
    ]
    body = (
        "(m, all) => Promise.all(all.map(([b, n, p]) => m.continues(b, n, p.map(each => new"
        " Uint8Array(each)))))"
    )
    assert modules.run("core/log.js", body, asked) == wanted
    assert set(wanted) == {True, False}


class _Rows:
    """Rows of hashes of a small log."""

    def __init__(self) -> None:
        self.rows: dict[tuple[int, int], bytes] = {}

    def put(self, tiles: Any) -> None:
        for each in tiles:
            self.rows[each.level, each.index] = each.hashes

    def read(self, level: int, index: int) -> bytes:
        return self.rows[level, index]


def _continues(before: Any, now: Any, path: list[bytes]) -> bool:
    try:
        proof.check_consistency(before["size"], now["size"], path, before["root"], now["root"])
    except BaileeError:
        return False
    return True


def test_a_checkpoint_is_believed_from_the_joined_log_alone(modules: Modules) -> None:
    """Whoever answers in the place of the service would show a log of their own (C2SP signed-note)."""
    log, other = (SigningKey.from_seed(name.ljust(32, b".")) for name in (b"log", b"other"))
    origin = "ledger.example/test"
    vkey = format_vkey(notes.verifier_key(origin, log))
    note = notes.sign(Checkpoint(origin, 7, b"r" * 32), log)
    forged = notes.sign(Checkpoint(origin, 7, b"r" * 32), other)
    elsewhere = notes.sign(Checkpoint("other.example/log", 7, b"r" * 32), log)
    changed = note.replace("\n7\n", "\n8\n")
    twice = note + note.rpartition("\n\n")[2]
    cases = [[each, vkey, origin] for each in (note, forged, elsewhere, changed, twice, note[:-10], "")]
    found = modules.call("core/log.js", "readCheckpoint", cases)
    assert found[0] == {"size": 7, "root": b64u(b"r" * 32)}
    assert all("error" in each for each in found[1:])


def test_leaf_hashes_are_alike(modules: Modules) -> None:
    """A phone that reckons another one calls every honest answer forged (RFC 6962 2.1)."""
    texts = ["", "a", '{"chain":"form/F"}']
    assert modules.call("core/bytes.js", "leafHash", [[each] for each in texts]) == [
        entries.link(each) for each in texts
    ]


def spoilt(chance: random.Random, data: Any, codes: list[Any]) -> Any:
    """The facts with one thing changed, or none."""
    data = dict(data)
    names = list(data)
    match chance.randrange(5):
        case 0 if names:
            del data[chance.choice(names)]
        case 1:
            data[chance.choice(["colour", "kind", "count", "near", "covers_on"])] = chance.choice(codes)
        case 2 if names:
            data[chance.choice(names)] = chance.choice(codes)
    return data


def test_facts_that_a_phone_lets_pass_have_the_members_the_registry_declares(modules: Modules) -> None:
    """A statement that the ledger does not take has used up its counter; one that a phone refuses wrongly is
    not written at all.
    """
    chance = random.Random(10)
    codes: list[Any] = [
        None,
        True,
        3,
        "intact",
        "12",
        [],
        ["none"],
        {},
        {"sky": "clear", "wind": "calm"},
        "bedroom",
    ]
    told = vocabulary.vocabulary()["acts"]
    cases = [[act, spoilt(chance, LEAST[act], codes)] for act in told for _ in range(often(60, thorough=300))]
    found = modules.run(
        "core/facts.js",
        "(m, [acts, all]) => all.map(([act, data]) => m.faults(acts[act].data, data))",
        [told, cases],
    )
    passed = refused = 0
    for (act, data), places in zip(cases, found, strict=True):
        try:
            statements._meaning(ROWS[act].chain, act, data, is_draft=False)
        except BadStatement:
            refused += bool(places)
        else:
            assert places == [], (act, data)
            passed += 1
    assert passed > 300
    assert refused > 300


def test_a_correction_says_what_the_terminals_would(modules: Modules) -> None:
    """A name or an inner fact that one of them reads otherwise is a correction that nobody follows
    (`bailee.domain.corrections`).
    """
    chance = random.Random(17)
    told = vocabulary.vocabulary()["acts"]
    acts = [act for act in told if ROWS[act].chain == "form" and not ROWS[act].fixed]
    found = modules.call("core/corrections.js", "factsOf", [[told[act]["data"]] for act in acts])
    cases = []
    for act, facts in zip(acts, found, strict=True):
        names = [each["name"] for each in facts]
        left = ("photo.", "courier.", "dock.", "found.", "slip_photo", "paper.photo")
        wanted = [each for each in corrections.names(act) if not each.startswith(left)]
        lists = {"edition", "volume_l", "samples", "items", "serves", "forms", "findings", "lab_numbers"}
        assert set(names) == set(wanted) - lists, act
        for name in names:
            data = chance.choice([LEAST[act], corrections.with_value(LEAST[act], name, "before")])
            cases.append([data, name, chance.choice([None, 7, "after", ["near"]])])
    made = modules.call("core/corrections.js", "withValue", cases)
    signed = modules.call("core/corrections.js", "corrected", [["D", *case, "typing"] for case in cases])
    for (data, name, new), after, said in zip(cases, made, signed, strict=True):
        changed = corrections.with_value(data, name, new)
        assert after == changed, name
        outer = name.partition(".")[0]
        assert (said["field"], said["old"], said["new"]) == (outer, data.get(outer), changed[outer])
    assert modules.call("core/corrections.js", "value", [[d, n] for d, n, _ in cases]) == [
        corrections.value(data, name) for data, name, _ in cases
    ]


def test_a_run_that_contradicts_itself_is_not_signed_into_a_correction(modules: Modules) -> None:
    """It would be recorded, followed by nobody, and found out at the laboratory
    (`Collected.contradictions`).
    """
    chance = random.Random(18)
    cases = []
    for _ in range(400):
        said = {"kind": chance.choice(["indoor", "blank"]), "run_s": chance.choice([0, 299, 300, 301, 302])}
        said |= {"started": "2026-12-01T09:00:00-05:00", "covers_on": True} | {
            name: LEAST["collected"][name] for name in ("sample", "lot")
        }
        if chance.randrange(2):
            said["flow_before"] = "15.0"
        if chance.randrange(2):
            said["stopped"] = "2026-12-01T09:05:00-05:00"
        cases.append(said)
    found = modules.call("core/corrections.js", "contradiction", [["collected", each] for each in cases])
    for said, code in zip(cases, found, strict=True):
        try:
            statements.parse(f"form/{FORM}", "collected", said)
        except BadStatement:
            assert code, said
        else:
            assert code is None, said
    assert set(found) == {None, "blank-with-air", "run-longer-than-scans"}


def test_a_courier_is_named_as_at_the_terminal(modules: Modules) -> None:
    """The dock looks for who carried it, and finds nobody (`bailee_cli.people.courier`)."""
    chance = random.Random(21)
    cases, wanted = [], []
    for _ in range(200):
        said = {"relation": chance.choice(["employee", "hired"])} | {
            name: chance.choice([None, value])
            for name, value in (
                ("name", "Bram Fell"),
                ("id_seen", False),
                ("slip", "R-77"),
                ("expected", "2026-12-01T16:30:00-05:00"),
            )
        }
        cases.append(["E", said, "2026-12-01T10:00:00-05:00"])
        typed = {"courier_name": said["name"], "relation": said["relation"]}
        typed |= {"id_seen": said["id_seen"], "slip": said["slip"]}
        way = {"envelope": "E", "carrier": "by hand", "service": "by hand", "service_days": 0}
        way |= {"saturday": False, "by_hand": True, "handed_over": "2026-12-01T10:00:00-05:00"}
        wanted.append(
            way
            | courier.facts(present(typed))
            | ({"expected_delivery": said["expected"]} if said["expected"] else {})
        )
    assert modules.call("screens/courier.js", "shipped", cases) == wanted


def test_a_picture_is_bound_as_at_the_terminal(modules: Modules, tmp_path: Path) -> None:
    """A digest of something else proves nothing of the picture (FIPS 180-4, RFC 4648 5)."""
    chance = random.Random(22)
    cases, wanted = [], []
    for ending, type_ in (("jpg", "image/jpeg"), ("png", "image/png"), ("heic", ""), ("webp", "image/webp")):
        content = chance.randbytes(chance.randrange(1, 3000))
        (tmp_path / f"a.{ending}").write_bytes(content)
        wanted.append(pictures.digest(tmp_path / f"a.{ending}"))
        cases.append([list(content), type_, f"a.{ending}"])
    body = "(m, all) => Promise.all(all.map(([b, t, n]) => m.bound(new Uint8Array(b), t, n)))"
    assert modules.run("parts/picture.js", body, cases) == wanted
    bad = [[[], "image/png", "a.png"], [[1], "text/html", "a.html"], [[1], "", "a"]]
    refused = (
        "(m, all) => Promise.all(all.map(([b, t, n]) => m.bound(new Uint8Array(b), t, n).catch(() => 0)))"
    )
    assert modules.run("parts/picture.js", refused, bad) == [0, 0, 0]


def test_runs_are_read_alike(modules: Modules) -> None:
    """55 asked back at a terminal and signed as 55 seconds on a phone is one rule too few."""
    cases = [*map(str, range(400)), "5:00", "0:55", "55:00", "5:60", "", "five", "99999", "100000"]
    found = modules.call("core/measures.js", "seconds", [[each] for each in cases])
    for case, each in zip(cases, found, strict=True):
        try:
            wanted: Any = written.run_as_typed(case)
            asked = ":" not in case and int(case) > 30 and written.run(case, bare_minutes_to=30)
        except BaileeError:
            wanted = asked = written.BareRun(0)
        if any(
            isinstance(one, written.BareRun) for one in (wanted, asked)
        ):  # here there is no second question
            wanted = {"error": "run", "facts": None}
        assert each == wanted, case


def slip_codes(told: Any) -> list[tuple[str, str]]:
    """Which slips, about which members."""
    return sorted((each["code"], each["member"]) for each in told)


def test_slips_of_the_finger_are_the_terminals(modules: Modules) -> None:
    """A flow of 150 L/min asked back at a terminal and signed on a phone is one rule too few; one that the
    terminal takes and the phone does not, one too many. Both of `bailee.asking.slips`, whose bounds are
    common practice.
    """
    chance = random.Random(13)
    kinds: tuple[numbers.Kind, ...] = ("sample", "lot", "form", "envelope", "seal")
    labels = [numbers.issue(each, lambda _: "7") for each in kinds]
    labels += [numbers.grouped(each).lower() for each in labels] + [f"HTTPS://A.EXAMPLE/S/{labels[0]}"]
    cases: list[Any] = []
    for _ in range(often(300, thorough=1500)):
        day = chance.randrange(1, 29)
        said = {
            "kind": chance.choice(["indoor", "outdoor", "blank"]),
            "run_s": chance.choice([0, 1, 5, 30, 31, 300, 3600, 3601, 18_000]),
            "started": f"2026-12-{day:02d}T{chance.randrange(24):02d}:12:00-05:00",
        }
        for name in ("flow_before", "flow_after"):
            if chance.randrange(4):
                said[name] = chance.choice(
                    ["0", "1.5", "3.74", "3.75", "14.9", "15", "60.0", "60.01", "150", "0.53"]
                )
        if chance.randrange(3):
            said["height_m"] = chance.choice(["1.2192", "5", "5.0001", "48", "4.9"])
        if not chance.randrange(4):
            said["short_run"] = "dust"
        if not chance.randrange(4):
            said["pressure_hpa"] = chance.choice(
                ["17.99", "18", "29.92", "33", "33.1", "60", "110.0", "110.01", "1013"]
            )
        for name in ("pump", "meter", "serial"):
            if not chance.randrange(3):
                said[name] = chance.choice([*["P-3"] * 9, "p-3", *labels, *(each[:-1] for each in labels)])
        visit = chance.choice([None, f"2026-12-{max(day - chance.randrange(2), 1):02d}"])
        cases.append([said, visit, chance.choice([None, "15.0", "5", "30"])])
    found = modules.call("core/slips.js", "collected", cases)
    seen = set()
    for (said, visit, flow), told in zip(cases, found, strict=True):
        day = date.fromisoformat(visit) if visit else None
        wanted = slips.collected(said, VisitSoFar(day, None), Decimal(flow) if flow else None)
        codes = sorted((each.code, each.field) for each in wanted)
        assert slip_codes(told) == codes, (said, visit, flow)
        seen |= set(codes)
    assert len(seen) == 11, seen
    openings = [
        [{"parties": {"firm": "f", "lab": lab}, "visit": visit}, "2026-12-01"]
        for lab in ("f", "l")
        for visit in (
            "2026-12-01",
            "2026-10-02",
            "2026-10-01",
            "2026-12-02",
            "2026-12-03",
            "2027-01-30",
            "2025-12-01",
        )
    ]
    found = modules.call("core/slips.js", "opened", openings)
    for (said, today), told in zip(openings, found, strict=True):
        wanted = opening_slips.opened(said, date.fromisoformat(today))
        assert slip_codes(told) == sorted((each.code, each.field) for each in wanted)


SENTENCES = """async (m, all) => {
  const table = m.words.%s;
  return all.map((told) => told.map(({ code, member, facts }) => [code, member, table[code](facts)]));
}"""


def in_words(asked_back: list[Slip]) -> list[list[str]]:
    """Each as a screen shows it."""
    return [[each.code, each.field, f"{each.sentence} {each.remedy}"] for each in asked_back]


def test_slips_among_a_visit_have_the_terminals_words(modules: Modules) -> None:
    """2:39 for 14:39, the pump's number as the meter's, the seal's as the carrier's: asked back at a terminal
    and signed on a phone, or told there with another number or time.
    """
    chance = random.Random(31)
    samples = [numbers.issue("sample", lambda _, each=each: each) for each in "2345"]
    forms = [numbers.issue("form", lambda _, each=each: each) for each in "23"]

    def cassette(*, is_signed: bool) -> dict[str, Any]:
        said: dict[str, Any] = {"sample": chance.choice(samples)}
        for name in ("pump", "meter", "serial"):
            if chance.randrange(4):
                said[name] = chance.choice([None, "", "P-5", "p-5 ", "P-6", "M-3", "m-3", "K-1", "K-2"])
        if is_signed or chance.randrange(6):  # before its run it has no start
            hour, minute = chance.choice([0, 2, 4, 8, 12, 14, 16, 20]), chance.choice([0, 0, 1, 59])
            offset = chance.choice(["-05:00", "-05:00", "-06:00", "+05:30", "Z"])
            said["started"] = f"2026-12-0{chance.choice('112')}T{hour:02d}:{minute:02d}:00{offset}"
        return said

    cases = []
    for _ in range(often(1500, thorough=6000)):
        known = [
            (chance.choice([forms[0], *forms]), cassette(is_signed=True)) for _ in range(chance.randrange(4))
        ]
        rows = [{"chain": f"form/{form}", "act": "collected", "data": each} for form, each in known]
        cases.append([cassette(is_signed=False), forms[0], rows])
    wanted = []
    for said, form, rows in cases:
        others = [{**each["data"], "form": each["chain"].removeprefix("form/")} for each in rows]
        wanted.append(in_words(list(visit_slips.among(said, form, others))))
    told = modules.call("core/slips.js", "among", cases)
    assert modules.run("screens/words.js", SENTENCES % "slips", told) == wanted
    codes = {each[0] for one in wanted for each in one}
    assert codes == {"pump-as-meter", "meter-as-pump", "equipment-as-serial", "half-a-day-off"}
    both = [[{"pump": "p-5", "meter": "P-5"}]]
    told = modules.call("core/slips.js", "pumpAsMeter", both)
    assert modules.run("screens/words.js", SENTENCES % "slips", told) == [
        in_words(list(slips.pump_as_meter(both[0][0])))
    ]

    kinds: tuple[numbers.Kind, ...] = ("sample", "lot", "form", "envelope", "seal")
    labels = [numbers.issue(each, lambda _: "7") for each in kinds]
    labels += [f" {numbers.grouped(each).lower()}" for each in labels] + [each[:-1] for each in labels]
    read = [*labels, f"HTTPS://A.EXAMPLE/S/{labels[0]}", "AF-1002003-2026", "HF-2045", "hf- 2045", "HF-204"]
    airbills = [
        [{"tracking": each}, {"seal": seal}] for each in read for seal in (None, "HF-2045", labels[4])
    ]
    wanted = [
        in_words(list(hand_over_slips.read_on_airbill(said["tracking"], inside["seal"])))
        for said, inside in airbills
    ]
    told = modules.call("desk/shipping.js", "slips", airbills)
    assert modules.run("desk/words.js", SENTENCES % "airbillSlips", told) == wanted
    assert {each[0] for one in wanted for each in one} == {"label-as-tracking", "seal-as-tracking"}


def test_slips_beside_what_was_collected_are_the_terminals(modules: Modules) -> None:
    """The serial of the cassette before, a label of the wrong box, a year typed wrong: asked back at a
    terminal and signed on a phone is one rule too few.
    """
    chance = random.Random(17)
    samples = [numbers.issue("sample", lambda _, each=each: each) for each in "2345"]
    forms = [numbers.issue("form", lambda _, each=each: each) for each in "23"]

    def cassette() -> dict[str, Any]:
        said: dict[str, Any] = {
            "sample": chance.choice(samples),
            "kind": chance.choice(["indoor", "indoor", "outdoor", "blank"]),
        }
        for name, all_of in (
            ("serial", ("K-1", "K-2")), ("point", (None, "P1", "p1")), ("room", ("attic", "attic", "living")),
            ("lot", ("L1", "L2")), ("duplicate_of", (None, None, None, samples[0])),
        ):  # fmt: skip
            if chance.randrange(4):
                said[name] = chance.choice(all_of)
        return said

    cases = []
    for _ in range(often(600, thorough=3000)):
        known = [(chance.choice(forms), cassette()) for _ in range(chance.randrange(4))]
        cases.append(
            [
                cassette(),
                forms[0],
                [{"chain": f"form/{form}", "act": "collected", "data": each} for form, each in known],
            ]
        )
    seen = set()
    for (said, form, rows), told in zip(cases, modules.call("core/slips.js", "beside", cases), strict=True):
        others = [{**each["data"], "form": each["chain"].removeprefix("form/")} for each in rows]
        wanted = [
            *run_slips.beside({"pump": None, **said}, form, others),
            *run_slips.at_one_point(said, form, others),
        ]
        codes = sorted((each.code, each.field) for each in wanted)
        assert slip_codes(told) == codes, (said, form, rows)
        seen |= set(codes)
    assert len(seen) == 4
    people = [
        None,
        "",
        "Perpetua Example",
        "perpetua  EXAMPLE",
        "12 Invented Lane",
        "12b Mill Road",
        "Mill Road",
    ]
    openings = [
        [{"client": client, "site": site}, known]
        for client in people
        for site in people
        for known in (
            [],
            [{"client": people[2], "site": people[4]}],
            [{"client": people[6]}, {"site": people[6]}],
        )
    ]
    for (said, known), told in zip(openings, modules.call("core/slips.js", "swapped", openings), strict=True):
        clients, sites = ([each[name] for each in known if name in each] for name in ("client", "site"))
        one = opening_slips.swapped(said["client"], said["site"], clients, sites)
        assert slip_codes(told) == [(each.code, each.field) for each in one], (said, known)
    lots = [[samples[0], flow, surface] for flow in (None, "0", "0.0", "15.0") for surface in (True, False)]
    for (sample, flow, surface), told in zip(
        lots, modules.call("core/slips.js", "lotOfAnotherKind", lots), strict=True
    ):
        one = slips.lot_of_another_kind(sample, flow, surface=surface)
        assert slip_codes(told) == [(each.code, each.field) for each in one]
    days = (None, "2026-11-30", "2026-12-01", "2027-12-01", "2027-12-02", "2016-12-07")
    asked = [[{"due": each}, "2026-12-01"] for each in days]
    for (said, today), told in zip(asked, modules.call("core/slips.js", "due", asked), strict=True):
        assert slip_codes(told) == [
            (each.code, each.field)
            for each in office_slips.request_due(said["due"], date.fromisoformat(today))
        ]
    now = datetime(2026, 12, 1, 14, tzinfo=UTC)
    moments = [
        [member, f"2026-12-01T{clock}-05:00", int(now.timestamp() * 1000)]
        for member in ("at", "started", "until", "expected")
        for clock in ("08:59:00", "09:05:00", "09:05:01", "23:00:00")
    ]
    for (member, at, _), told in zip(
        moments, modules.call("core/slips.js", "stillToCome", moments), strict=True
    ):
        one = run_slips.corrected("held", {member: at}, [member], VisitSoFar(None, None), now=now)
        assert slip_codes(told) == [(each.code, each.field) for each in one], (member, at)
    envelope = numbers.issue("envelope", lambda _: "7")
    for closed in ([], [[envelope, "sealed"]]):
        (told,) = modules.call("core/slips.js", "visitClosed", [[{"closed": closed}]])
        one = slips.visit_closed(VisitSoFar(None, None, dict(closed)))
        assert slip_codes(told) == [(each.code, each.field) for each in one]


def test_a_lot_is_expired_on_a_phone_when_the_rules_say_so(modules: Modules) -> None:
    """An inspector who is told to take another cassette though the firm lets this one be used runs out of
    them; one who is not told collects what the laboratory rejects (`bailee.domain.lots.freshness`).
    """
    chance = random.Random(16)
    day = date(2026, 12, 1)
    cases = [
        (day + timedelta(days=chance.randrange(-40, 10)), chance.randrange(31))
        for _ in range(often(100, thorough=500))
    ]
    asked = [
        [{"recalled": False, "expires": last.isoformat()}, day.isoformat(), grace] for last, grace in cases
    ]
    found = modules.call("core/visits.js", "stateOfLot", asked)
    for (last, grace), told in zip(cases, found, strict=True):
        wanted = freshness(last, day, Policy.of(expiry_grace_days=grace))
        assert wanted
        state = "not expired" if wanted.in_date else "in grace" if wanted.may_be_used else "expired"
        assert told == {"state": state, "usableTo": wanted.usable_to.isoformat()}, (last, grace)
    assert {each["state"] for each in found} == {"not expired", "in grace", "expired"}
    others = [
        [{"recalled": True, "expires": None}, "2026-12-01"],
        [{"recalled": False, "expires": None}, "2026-12-01"],
    ]
    assert [each["state"] for each in modules.call("core/visits.js", "stateOfLot", others)] == [
        "recalled",
        "undated",
    ]


def test_a_seal_is_read_on_a_screen_as_at_a_terminal(modules: Modules) -> None:
    """A number that one of them reads and the other refuses is a seal that nobody finds again
    (`bailee.domain.numbers.read_seal`).
    """
    chance = random.Random(5)
    own = [numbers.issue("seal", chance.choice) for _ in range(60)]
    labels = [numbers.issue(kind, chance.choice) for kind in ("sample", "envelope", "lot", "form")]
    wrong = [each[:-1] + ("A" if each[-1] != "A" else "B") for each in own[:20]]
    dashed = [f"{each[:4]}-{each[4:8]}-{each[8:]}" for each in own[:20]]
    alphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-- c"
    foreign = ["".join(chance.choices(alphabet, k=chance.randint(1, 26))) for _ in range(400)]
    cases = [*own, *labels, *wrong, *dashed, *foreign, "HF-2045", "hf 2045", "https://ledger.example/C/HF-1"]
    found = modules.call("desk/seals.js", "readSeal", [[each] for each in cases])

    def read(text: str) -> str | None:
        try:
            return numbers.read_seal(text)
        except BadNumber:
            return None

    assert [each if isinstance(each, str) else None for each in found] == [read(each) for each in cases]


def test_numbers_of_a_laboratory_follow_each_other_as_at_a_terminal(modules: Modules) -> None:
    """Sample 26-0099 is followed by 26-100 on one of them, and a tray is numbered twice."""
    firsts = ["26-10412", "0099", "A9", "x-0", " 26-7 ", "26-099999999999"]
    told = modules.call("desk/following.js", "following", [[each, 12] for each in firsts])
    assert told == [list(deciding.following(each, 12)) for each in firsts]
    assert modules.call("desk/following.js", "following", [["26-A", 2]])[0]["error"] == "first"
