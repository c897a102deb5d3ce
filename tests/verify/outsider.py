"""A verifier by a stranger, from `guides/formats.md` alone: sections 8, 10, 11 and 13.

`outsider_forms` reads (1 to 7), `outsider_keys` knows who may speak (9).

`judge` gives the state of the records, where it stopped (a step, or the other keys), and what is to be
weighed.
"""

# ruff: noqa: PT018, PLR0912 - one assertion for what one sentence of the page asks, in its order

import re
from datetime import datetime
from hashlib import sha256
from itertools import groupby, pairwise

import outsider_forms as forms
from outsider_forms import LAST, WRONG, digest, raw, statement, verify
from outsider_keys import MAY, admit, is_refused, public_of

NAMING = {"opened", "collected", "surface_collected"}


def weigh(item, end):
    """Section 10: what must be said of a statement whose key has ended."""
    late, within = item.index > end.index, item.claims["seq"] <= end.good
    if late:
        return {"late-key"} if within and not end.successor else set()
    return {"doubtful-key"} if not within and datetime.fromisoformat(item.rec) >= end.since else set()


def contradict(pair, orgs, parties, origin):
    """Section 11."""
    first, second = sorted(map(statement, pair), key=lambda one: one.claims["seq"])
    for one in (first, second):
        key = one.claims["iss"] in orgs and orgs[one.claims["iss"]].keys.get(one.kid)
        if not key or key.end or one.claims["iss"] not in parties:
            return set()
    for one in (first, second):
        verify(public_of(one, orgs), one.signature, one.signed)
        assert one.claims["aud"] == origin and one.kid == first.kid
    gap = second.claims["seq"] - first.claims["seq"]
    assert gap < 2 and (second.claims["prev"] != digest(first.text) if gap else first.signed != second.signed)
    return {"conflict"}


def judge(file, asked):
    """Sections 8 and 13. What fails a step ends it: whatever stands behind would be found by going on."""
    remarks, step = set(), 1
    try:
        roots = dict(each.split("=") for each in asked["roots"])
        policy = [line.split() for line in asked["policy"].splitlines()]
        logs = [forms.vkey(text, 1) for text in asked["log_keys"]]
        cosigners = [forms.vkey(words[2], 4) for words in policy if words[0] == "cosigner"]
        quorum = max(int(words[1]) for words in [*policy, ["quorum", "0"]] if words[0] == "quorum")
        bundle = forms.read(file)
        assert logs
    except WRONG:
        return "refused", step, remarks
    try:
        step = 2
        top, ends = forms.note(bundle["checkpoint"]), forms.note(bundle["ends"], 1)
        others = set() if forms.signed_by_log(top, ends, logs) else {"other-log-key"}
        said = [re.fullmatch(r"(\S+) (0 -|[1-9]\d{0,14} [\w-]{43})", line).groups() for line in ends.more]
        (origin, size, root), spoken = top.head, dict(said)
        assert [chain for chain, _ in said] == sorted(spoken)
        enough = 0 < quorum <= sum(forms.cosigned(top, key, LAST) is not None for key in cosigners)
        step = 3
        items = [forms.entry(each) for each in sorted(bundle["entries"], key=lambda each: each["index"])]
        assert len({item.index for item in items}) == len(items)
        assert all(
            item.index < size and forms.rooted(raw(item.leaf), item.index, size, item.proof) == root
            for item in items
        )
        step = 4
        chains, form = {}, f"form/{bundle['form']}"
        for item in sorted(items, key=lambda item: (item.n, item.index)):
            chains.setdefault(item.chain, []).append(item)
        for chain, links in chains.items():
            assert links[0].n == 1 and spoken[chain] == f"{links[-1].n} {links[-1].leaf}"
            for before, item in pairwise(links):
                assert item.n == before.n + 1 and item.prev == before.leaf
                assert item.index > before.index and item.rec >= before.rec
        assert {chain for chain in spoken if spoken[chain] != "0 -"} <= chains.keys() and form in chains
        step = 5
        for item in items:
            vars(item).update(vars(statement(item.stmt)))
            assert item.claims["sub"] == item.chain and item.claims["aud"] == origin
        step, orgs, owners, unknown = 6, {}, {}, set()
        for item in items:
            iss, rests = item.claims["iss"], {item.chain, f"org/{item.claims['iss']}"} & unknown
            if not rests or (iss in orgs and item.kid in orgs[iss].keys):
                verify(public_of(item, orgs), item.signature, item.signed)
            try:
                assert item.claims["act"] in MAY
                admit(item, orgs, owners)
            except WRONG:
                if item.claims["act"] in MAY and not rests:
                    raise
                unknown.add(item.chain)
        others |= {"other-root" for org, each in orgs.items() if roots.get(org, each.root) != each.root}
        ended = {kid: key.end for org in orgs.values() for kid, key in org.keys.items() if key.end}
        remarks = set().union(*(weigh(item, ended[item.kid]) for item in items if item.kid in ended))
        step = 4
        facts = [item.claims["data"] for item in chains[form] if item.claims["act"] in NAMING]
        named = {f"lot/{each['lot']}" for each in facts if each.get("lot")}
        named |= {f"org/{org}" for each in facts for org in each.get("parties", {}).values()}
        assert named <= spoken.keys() and {f"org/{item.claims['iss']}" for item in items} <= chains.keys()
        step = 7
        refused = [statement(text) for text in bundle.get("refused", []) if not unknown]
        refused = [each for each in refused if each.claims["iss"] in orgs]
        for each in refused:
            verify(public_of(each, orgs), each.signature, each.signed)
            assert each.claims["aud"] == origin and is_refused(each, orgs[each.claims["iss"]])
            assert digest(each.text) not in {digest(item.text) for item in items}
            vars(each).update(index=-1)
            remarks |= {"refused"}
        devices = sorted([*items, *refused], key=lambda item: (item.kid, item.claims["seq"], item.index))
        for _, (first, *more) in groupby(devices, lambda item: item.kid):
            assert (first.claims["seq"] == 1) == (first.claims["prev"] is None)
            for before, item in pairwise([first, *more]):
                gap, prev = item.claims["seq"] - before.claims["seq"], item.claims["prev"]
                assert gap and prev and (gap > 1 or prev == digest(before.text))
                remarks |= {"clock-backwards"} if item.claims["iat"] < before.claims["iat"] else set()
        leaves = {(item.chain, item.leaf): item.n for item in items}
        assert all(leaves[item.chain, after] < item.n for item in items if (after := item.claims["after"]))
        for pair in bundle.get("conflicts", []):
            remarks |= contradict(pair, orgs, owners[form], origin)
        step, heads = 8, {0: sha256().digest(), size: root}
        for each in bundle["earlier"]:
            was, proof = each["root"], each["proof"]
            assert forms.grown(each["size"], size, proof, was) == (was, root) if each["size"] else not proof
            assert heads.setdefault(each["size"], was) == was
        for seen, item in [(item.claims.get("seen"), item) for item in items]:
            assert not seen or (seen["size"] <= item.index and heads[seen["size"]] == raw(seen["root"]))
        step = 9
        for item in items:
            forms.reveal(item)
    except WRONG:
        return "broken", step, set()
    complete = enough and orgs.keys() <= roots.keys()
    state = "complete and cosigned" if complete else "intact, not cosigned"
    state = "not all understood" if unknown else state
    return "not under your keys" if others else state, others, remarks
