"""Who said what and when: every entry, every key, and what organizations say of each other."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import accumulate

from bailee.domain.acts.form import Opened
from bailee.domain.custody import Form
from bailee.domain.fields import PRIVATE_OF_A_VISIT
from bailee.domain.moments import Moment
from bailee.domain.organizations import Organization
from bailee.presentation.copy_words import copies
from bailee.presentation.on_site_words import on_site
from bailee.presentation.request_words import requested
from bailee.verify.authorship import Heard
from bailee.verify.devices import Head
from bailee.verify.evidence import ReadEntry
from bailee.verify.result import Endorsement, EntryLine, Signer, Visit


def visit(form: Form) -> Visit:
    """What the form is about."""
    opened, said = form.opened.of(Opened), form.opened.entry.disclosed
    return Visit(
        day=opened.visit.isoformat(),
        zone=opened.zone,
        firm=opened.parties.firm,
        lab=opened.parties.lab,
        project=opened.project,
        told={name: said[name] for name in PRIVATE_OF_A_VISIT if name in said},
        on_site=on_site(form),
        requests=requested(form),
        copies=copies(form),
    )


def lines(
    heard: Iterable[Heard],
    items: Sequence[ReadEntry],
    organizations: Mapping[str, Organization],
    proven: Iterable[Head],
    seen_by: Callable[[int], str | None],
) -> Iterator[EntryLine]:
    """Every entry whose signature holds, in the order of the log, with its window of time.

    `seen_by` tells by when somebody else had seen the entry at an index: cosigners and time stamp authorities
    that the auditor believes.
    """
    by_leaf = {(item.entry.chain, item.leaf): item.entry.rec for item in items}
    indexes = [item.index for item in items]
    latest = list(accumulate((item.entry.rec for item in items), max))
    sizes = {size for size, _ in proven}
    for each in heard:
        claims, entry = each.statement.claims, each.item.entry
        known = by_leaf.get((entry.chain, claims.after or ""))
        bounds = [known] if known else []
        if claims.seen and claims.seen.size in sizes and (shown := bisect_left(indexes, claims.seen.size)):
            bounds.append(latest[shown - 1])
        organization = organizations.get(claims.iss)
        key = organization.keys.get(each.statement.kid) if organization else None
        yield EntryLine(
            index=each.item.index,
            chain=entry.chain,
            n=entry.n,
            act=claims.act,
            org=claims.iss,
            kid=each.statement.kid,
            person=key.person if key else "",
            role=key.role if key else "",
            claimed=Moment.of(claims.iat, claims.tzo).text(),
            recorded=entry.rec,
            not_before=max(bounds, default=None),
            not_after=seen_by(each.item.index),
            redacted=each.hidden,
            told=dict(each.recorded.disclosed) if each.recorded else {},
        )


def signers(heard: Iterable[Heard], organizations: Mapping[str, Organization]) -> Iterator[Signer]:
    """Every key that speaks here, in the order in which they first do."""
    counts = Counter((each.statement.claims.iss, each.statement.kid) for each in heard)
    for (org, kid), count in counts.items():
        organization = organizations.get(org)
        key = organization.keys.get(kid) if organization else None
        if key is None:
            continue
        ended = key.revocation
        since = Moment.parse(ended.since).clock if ended else ""
        revoked = f"{ended.reason}, since {since}, entry {ended.n} of org/{org}" if ended else None
        yield Signer(kid, org, key.role, key.person, key.enrolled_n, count, revoked)


def endorsements(
    organizations: Mapping[str, Organization], roots: Mapping[str, str]
) -> Iterator[Endorsement]:
    """What the organizations of this file say about each other's roots.

    `roots` are those the auditor brought.
    """
    for by in organizations.values():
        for org, root in sorted(by.endorsed.items()):
            if org in organizations:
                fits = organizations[org].root == root
                yield Endorsement(org, root, by.id, fits, roots.get(by.id) == by.root)
