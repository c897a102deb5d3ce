"""Whose key a stranger believes, and who may say what: section 9 of `guides/formats.md`, from that page
alone.
"""

# ruff: noqa: PT018 - one assertion for what one sentence of the page asks, in its order

import re
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace as Made

from outsider_forms import ORG, count, jwk, jws, matches, numbered, raw, verify

PAGE = Path(__file__).parents[2] / "service/bailee/guides/formats.md"
ROWS = re.findall(r"^\| (form|lot|org) \| (.+) \| (.+) \|$", PAGE.read_text("utf-8"), re.MULTILINE)
MAY = {act: (kind, roles) for kind, acts, roles in ROWS for act in acts.split(", ")}
FIRST, NEW = {"opened", "lot_received", "founded"}, {"enrolled", "rotated", "recovered"}


def public_of(item, orgs):
    """The key of a statement, as it stands at that place of the log."""
    act, org = item.claims["act"], orgs.get(item.claims["iss"])
    if act == "founded" or (act == "recovered" and org.recovery == item.kid):
        return jwk(item.claims["data"]["jwk" if act == "founded" else "recovery_jwk"], item.kid)
    return org.keys[item.kid].public


def admit(item, orgs, owners):
    """Refuse what this key may not say there, then let it take effect."""
    act, iss, data = (item.claims[name] for name in ("act", "iss", "data"))
    (kind, number), org = item.chain.split("/"), orgs.get(iss, Made(keys={}, recovery=None))
    mine, other = org.keys.get(item.kid), org.keys.get(data.get("kid"))
    assert MAY[act][0] == kind and ((kind == "org" and matches(ORG, number)) or numbered(kind, number))
    if mine and mine.end and act not in {"founded", "recovered"}:
        assert kind != "org" and item.claims["seq"] <= mine.end.good
    assert number == iss if kind == "org" else act in FIRST or iss in owners[item.chain]
    assert (act in FIRST) == (item.n == 1) and (act != "opened" or iss in data["parties"].values())
    if act in {"founded", "recovered"}:
        assert act == "founded" or org.recovery == item.kid
    elif not (act == "revoked" and mine is other):
        about = data["role"] if act == "enrolled" else other and other.role
        assert MAY[act][1].startswith("every") or mine.role in MAY[act][1].split(", ")
        assert act not in {"enrolled", "revoked"} or about != "root" or mine.role == "root"
    if act in NEW:
        proof = jws(data["proof"], "custody-key-proof+jwt", 1024)
        assert proof.claims == {"aud": item.claims["aud"], "iat": proof.claims["iat"], "iss": iss}
        assert proof.kid == data["kid"] and count(proof.claims["iat"])
        verify(jwk(data["jwk"], data["kid"]), proof.signature, proof.signed)
    if act in {"opened", "lot_received"}:
        owners[item.chain] = {iss, *data.get("parties", {}).values()}
    if act == "opened":
        owners[number] = {data["parties"]["firm"]} - {data["parties"]["lab"]}
    if act == "forwarded" and iss not in owners[number]:
        owners[item.chain] |= {data["to"]}
    if kind == "org":
        change(item, orgs, org, mine, other)


def is_refused(statement, org):
    """Section 11: whether a refused statement shows by itself why."""
    act, (kind, number) = statement.claims["act"], statement.claims["sub"].split("/")
    mine, data = org.keys[statement.kid], statement.claims["data"]
    assert (
        kind in {"org", "lot"}
        and MAY[act][0] == kind
        and act != "recovered"
        and (kind == "lot" or number == statement.claims["iss"])
    )
    if act == "founded":
        return mine.kid == org.root
    about = org.keys.get(data.get("kid"))
    if act == "revoked" and about is mine:
        return False
    role = data.get("role") if act == "enrolled" else about and act == "revoked" and about.role
    wrong = not MAY[act][1].startswith("every") and mine.role not in MAY[act][1].split(", ")
    return wrong or (role == "root" and mine.role != "root")


def change(item, orgs, org, mine, other):
    """What an act does to the keys of its organization."""
    act, data = item.claims["act"], item.claims["data"]
    if act in NEW and other:
        return
    if act == "founded":
        org = orgs[item.claims["iss"]] = Made(root=item.kid, recovery=data.get("recovery"), keys={})
    good = {each["kid"]: each["last_good_seq"] for each in data.get("lost", [])}
    since = (
        datetime.fromisoformat(data.get("since", "1970-01-01"))
        if act != "rotated"
        else datetime.fromtimestamp(item.claims["iat"], UTC)
    )
    roots = [each for each in org.keys.values() if each.role == "root"]
    for each in {"revoked": [other] * bool(other), "rotated": [mine], "recovered": roots}.get(act, []):
        last = data.get("last_good_seq", data.get("last_seq", good.get(each.kid, 0)))
        each.end = each.end or Made(index=item.index, good=last, since=since, successor=act == "rotated")
    if act == "founded" or act in NEW:
        kid, role = data.get("kid", item.kid), data.get("role", mine.role if act == "rotated" else "root")
        org.keys[kid] = Made(kid=kid, public=raw(data["jwk"]["x"]), role=role, end=None)
    if act == "recovered":
        org.recovery = data.get("recovery") or org.recovery
