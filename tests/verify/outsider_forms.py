"""What `outsider` reads: open standards, each function by its clause, then the forms of sections 1 to 7 of
`guides/formats.md`.

Written from that page alone, with the standard library and `cryptography`.
"""

# ruff: noqa: PT018 - one assertion for what one sentence of the page asks, in its order

import json
import re
from base64 import b64decode, b64encode
from datetime import datetime
from functools import cache
from hashlib import sha256
from itertools import accumulate
from types import SimpleNamespace as Made

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey, X25519PublicKey

DIGEST, ORG = "[A-Za-z0-9_-]{43}", "[a-z0-9]([a-z0-9-]{0,30}[a-z0-9])?"
OFFSET = r"(?!-00:00)([+](0\d|1[0-3])|-(0\d|1[01])):[0-5]\d|[+]14:00|-12:00"
CLAIMS = {
    "iss",
    "aud",
    "sub",
    "act",
    "iat",
    "tzo",
    "seq",
    "prev",
    "after",
    "data",
    "refs",
    "seen",
    "skew",
    "_sd",
    "_sd_alg",
}
LAST = 7258118399
P, L = 2**255 - 19, 2**252 + 27742317777372353535851937790883648493
WRONG = (
    ArithmeticError,
    AssertionError,
    AttributeError,
    InvalidSignature,
    LookupError,
    RecursionError,
    TypeError,
    ValueError,
)
"""What anything below raises when it does not hold."""


def spell(data, url=True):
    """RFC 4648 5 without padding, or 4."""
    text = b64encode(data).decode()
    return text.rstrip("=").translate({43: "-", 47: "_"}) if url else text


def raw(text, url=True, length=None):
    """The bytes of a text in its one spelling."""
    data = b64decode(text.translate({45: "+", 95: "/"}) + "===" if url else text)
    assert spell(data, url) == text and len(data) == (length or len(data))
    return data


def digest(text):
    """FIPS 180-4, as base64url."""
    return spell(sha256(text.encode()).digest())


def matches(pattern, *texts):
    """Whether all of these are texts of this pattern."""
    return all(type(text) is str and re.fullmatch(pattern, text, re.DOTALL) for text in texts)


def canonical(value):
    """RFC 8785, of ASCII and integers."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"))


def strict(data):
    """RFC 7493, with 32 levels and no U+0000."""

    def members(pairs):
        assert len(dict(pairs)) == len(pairs)
        return dict(pairs)

    def number(text):
        assert matches("-?[0-9]{1,16}", text) and abs(int(text)) < 2**53
        return int(text)

    text = data.decode()
    bare = re.sub(r'"[^"\\]*(?:\\.[^"\\]*)*"?', "", text, flags=re.DOTALL)
    depths = accumulate(1 if each in "[{" else -1 for each in re.findall(r"[][{}]", bare))
    assert max(depths, default=0) <= 32
    value = json.loads(
        text, object_pairs_hook=members, parse_int=number, parse_float=number, parse_constant=number
    )
    if "\\u" in text:
        said = json.dumps(value, ensure_ascii=False).encode()
        assert b"\\u0000" not in said or not re.search(rb"(?<!\\)(\\\\)*\\u0000", said)
    return value


def checked(number):
    """ISO/IEC 7064 MOD 37-2."""
    values = [int(each, 36) for each in number]
    return (
        list(accumulate(values, lambda p, value: (p + value) * 2 % 37, initial=0))[-2] + values[-1]
    ) % 37 == 1


@cache
def strong(public):
    """RFC 8032 5.1.3 and RFC 7748 4.1: a point of prime order."""
    y, d = int.from_bytes(public, "little") % 2**255, -121665 * pow(121666, -1, P)
    assert len(public) == 32 and y < P and pow((y * y - 1) * (d * y * y + 1), (P - 1) // 2, P) == 1
    u = ((1 + y) * pow(1 - y, -1, P) % P).to_bytes(32, "little")
    scalar = X25519PrivateKey.from_private_bytes((5 * L - 1).to_bytes(32, "little"))
    assert scalar.exchange(X25519PublicKey.from_public_bytes(u)) == u
    return True


@cache
def verify(public, signature, message):
    """RFC 8032 5.1.7."""
    assert strong(public) and signature[:32] != b"\1" + bytes(31)
    Ed25519PublicKey.from_public_bytes(public).verify(signature, message)


def jwk(value, kid):
    """RFC 8037 2, and its name by RFC 7638 3: the public key."""
    assert (value["crv"], value["kty"], len(value)) == ("Ed25519", "OKP", 3) and strong(raw(value["x"]))
    assert digest(canonical(value)) == kid
    return raw(value["x"])


@cache
def jws(text, typ, limit):
    """RFC 7515 7.1, not verified."""
    header, claims, signature = map(raw, text.split("."))
    first = strict(header)
    assert len(text) <= limit and len(signature) == 64 and len(text.split(".")[0]) <= 256
    assert first == {"alg": "Ed25519", "kid": first["kid"], "typ": typ} and matches(
        "[A-Za-z0-9_-]{43}", first["kid"]
    )
    signed = text.rpartition(".")[0].encode()
    return Made(text=text, kid=first["kid"], claims=strict(claims), signature=signature, signed=signed)


def node(left, right):
    """RFC 9162 2.1.1."""
    return sha256(b"\1" + left + right).digest()


def rooted(leaf, index, size, path):
    """RFC 9162 2.1.3: the root that an inclusion proof leads to."""
    if size == 1:
        return b"" if path else leaf
    half = 1 << (size - 1).bit_length() - 1
    if index < half:
        return node(rooted(leaf, index, half, path[:-1]), path[-1])
    return node(path[-1], rooted(leaf, index - half, size - half, path[:-1]))


def grown(old, new, path, known):
    """RFC 9162 2.1.4: the roots of both sizes that a consistency proof leads to; `known` is that of the old
    one.
    """
    if old == new:
        (root,) = path if known is None else [known, *path]
        return root, root
    half = 1 << (new - 1).bit_length() - 1
    if old <= half:
        was, now = grown(old, half, path[:-1], known)
        return was, node(now, path[-1])
    was, now = grown(old - half, new - half, path[:-1], None)
    return node(path[-1], was), node(path[-1], now)


def named(name):
    """C2SP signed-note, and no beginning of another signed text."""
    other = r"(?i)(bailee-[a-z-]+|cosignature|subtree)/v?\d+"
    return matches(r"[^\s+\x00-\x1f]+", name) and not re.fullmatch(other, name)


def vkey(text, kind):
    """C2SP signed-note: a verifier key of this type."""
    name, key_id, data = text.split("+", 2)
    public = raw(data, url=False)
    assert (
        named(name) and public[0] == kind and key_id == sha256(f"{name}\n".encode() + public).hexdigest()[:8]
    )
    assert strong(public[1:])
    return Made(name=name, id=bytes.fromhex(key_id), public=public[1:])


def note(text, first=0):
    """C2SP signed-note over the three lines of a tlog-checkpoint, which stand after `first` others; `more`
    are those below.
    """
    body, border, block = text.rpartition("\n\n")
    lines = [re.fullmatch("— ([^ ]+) ([^ ]+)", line).groups() for line in block.split("\n")[:-1]]
    assert (
        border and block[-1] == "\n" and len(text.encode()) <= 2**18 and not re.search("[\0-\t\v-\x1f]", body)
    )
    assert 1 <= len(lines) <= 32 and all(
        named(name) and len(raw(data, url=False)) > 4 for name, data in lines
    )
    above, (origin, size, root), more = (
        body.split("\n")[part] for part in (slice(first), slice(first, first + 3), slice(first + 3, None))
    )
    assert named(origin) and matches("0|[1-9][0-9]{0,18}", size) and int(size) < 2**63
    lines = [(name, raw(data, url=False)) for name, data in lines]
    head = (origin, int(size), raw(root, url=False, length=32))
    return Made(body=f"{body}\n", lines=lines, above=above, head=head, more=more)


def of(found, key):
    """C2SP signed-note: the signatures on a note that bear this key's name and id."""
    return [data[4:] for name, data in found.lines if (name, data[:4]) == (key.name, key.id)]


def signed_by_log(top, ends, logs):
    """C2SP tlog-checkpoint: whether one of these keys signed both notes; otherwise some other key did."""
    lines = [[data for name, data in each.lines if name == top.head[0]] for each in (top, ends)]
    keys = {key.id: key for key in logs if key.name == top.head[0]}
    assert not top.more and ends.above == ["bailee-ends/1"] and ends.head == top.head and len(lines[0]) < 2
    if not lines[0] or lines[0][0][:4] not in keys:
        assert {line[:4] for line in lines[0]} == {line[:4] for line in lines[1]}
        return False
    for found, (line,) in zip((top, ends), lines, strict=True):
        verify(keys[line[:4]].public, line[4:], found.body.encode())
    return True


def cosigned(found, key, last):
    """C2SP tlog-cosignature: when this cosigner signed, at most `last`; None when it did not."""
    times = [int.from_bytes(data[:8], "big") for data in of(found, key)]
    for time, data in zip(times, of(found, key), strict=True):
        assert time <= last
        verify(key.public, data[8:], f"cosignature/v1\ntime {time}\n{found.body}".encode())
    return max(times, default=None)


def count(value, least=0, most=2**63 - 1):
    """A whole number, and no truth value."""
    return type(value) is int and least <= value <= most


def numbered(kind, text):
    """Section 1: the number of a form or lot."""
    return matches({"form": "F", "lot": "M"}[kind] + "[0-9A-HJKMNP-TV-Z]{11}", text) and checked(text)


def statement(text):
    """Section 2, not verified."""
    found = jws(text, "custody-statement+sd-jwt", 16384)
    c, refs, private = found.claims, found.claims.get("refs", []), found.claims.get("_sd", [])
    assert (
        matches(ORG, c["iss"])
        and matches("[ -~]{1,128}", c["aud"], c["sub"])
        and matches("[a-z][a-z_]{2,31}", c["act"])
    )
    assert (
        count(c["iat"], most=LAST)
        and matches(OFFSET, c["tzo"])
        and count(c["seq"], 1)
        and type(c["data"]) is dict
    )
    assert all(c[name] is None or matches(DIGEST, c[name]) for name in ("prev", "after"))
    assert (
        type(refs) is type(private) is list
        and matches(DIGEST, *refs, *private)
        and private == sorted(set(private))
    )
    assert c.get("_sd_alg", "sha-256") == "sha-256" and (
        "seen" not in c or c["seen"] is None or count(c["seen"]["size"])
    )
    assert not c.get("seen") or matches(DIGEST, c["seen"]["root"])
    assert "skew" not in c or (count(abs(c["skew"]), 1, 10**10) and type(c["skew"]) is int)
    return found


def reveal(item):
    """Section 3."""
    taken = CLAIMS | {"..."} | item.claims["data"].keys()
    for text in item.disclosures:
        salt, name, value = strict(raw(text))
        assert matches(".*", salt, name, value) and len(text) <= 8192
        assert digest(text) in item.claims.get("_sd", []) and name not in taken
        taken.add(name)


def entry(placed):
    """Section 5."""
    text, members = placed["entry"], strict(placed["entry"].encode())
    item = Made(**members, index=placed["index"], proof=placed["proof"], disclosures=placed["disclosures"])
    assert canonical(members) == text and len(members) == 5 and len(text) <= 65535
    assert matches("[a-z]{1,16}/[A-Za-z0-9][A-Za-z0-9._-]{0,63}", item.chain) and count(item.n, 1)
    assert item.prev is None if item.n == 1 else raw(item.prev, length=32)
    assert matches(r"(19[7-9]|2[01]\d)\d-..-..T..:..:..\.\d{3}Z", item.rec) and datetime.fromisoformat(
        item.rec
    )
    assert matches(r"[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+\.[A-Za-z0-9_-]{86}", item.stmt)
    item.leaf = spell(sha256(b"\0" + text.encode()).digest())
    return item


def hashes(texts):
    """Section 7: a proof."""
    assert type(texts) is list and len(texts) <= 64
    return [raw(text, url=False, length=32) for text in texts]


def read(file):
    """Section 7: the file."""
    bundle = strict(file)
    entries, earlier, conflicts, tokens = (
        bundle.get(name, []) for name in ("entries", "earlier", "conflicts", "tokens")
    )
    assert (
        bundle["format"] == "bailee-bundle/2"
        and numbered("form", bundle["form"])
        and entries
        and "earlier" in bundle
    )
    assert matches(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", bundle["exported"]) and len(bundle["roots"]) <= 1000
    assert matches(".*", bundle["checkpoint"], bundle["ends"], *(text for pair in conflicts for text in pair))
    assert all(matches(ORG, org) and matches(DIGEST, root) for org, root in bundle["roots"].items())
    refused = bundle.get("refused", [])
    assert type(refused) is list and matches(".*", "", *refused) and len(refused) <= 1000
    assert type(entries) is type(earlier) is list and type(conflicts) is type(tokens) is list
    assert max(len(entries), len(earlier)) <= 20000 and max(len(conflicts), len(tokens)) <= 1000
    assert all(
        count(each["index"]) and matches(".*", each["entry"], *each["disclosures"]) for each in entries
    )
    assert all(count(each["size"]) for each in earlier + tokens) and all(len(pair) == 2 for pair in conflicts)
    assert all(each["type"] == "rfc3161" and raw(each["der"], url=False) for each in tokens)
    for each in entries + earlier:
        each["proof"] = hashes(each["proof"])
    for each in earlier:
        (each["root"],) = hashes([each["root"]])
    return bundle
