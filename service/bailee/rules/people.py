"""SI: whether a key is one person's, known and informed; and whether quality work is checked by a second person."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from bailee.domain.form_acts import Excepted
from bailee.domain.moments import duration_words, hours
from bailee.domain.numbers import grouped, kind_of
from bailee.domain.statements import Recorded
from bailee.rules.case import Case
from bailee.rules.registry import RULES, Hit, barred, is_allowed, refusal, rule
from bailee.rules.wording import clock_at, listed

refusal(
    "SI-05", "One key enrolled for two people", "ALCOA: attributable, by summary; common practice: one key, one person",
    "bailee.operations.register.require_own_key",
)  # fmt: skip
refusal(
    "SI-14", "The service's own key enrolled to sign for a person", "40 CFR 3.2000(b): signed by the person; 21 CFR 11.10",
    "bailee.operations.register.require_own_key",
)  # fmt: skip


@rule(
    "SI-07", "Key enrolled without an identity check", "block", "records", "EPA CROMERR lessons 5 and 6: identity proofed before a key is used",
    "An administrator checks who owns the key, and enrols it once more with how that was checked: `bailee enrol … --role … "
    "--checked …`.",
)  # fmt: skip
def owner_known(case: Case) -> Iterator[Hit]:
    """Every key that spoke on a form, and the one about to seal or ship."""
    for form in case.forms.values():
        unknown: dict[tuple[str, str], list[int]] = {}
        for entry in form.ordered:
            if _is_unchecked(case, entry.org, entry.kid):
                unknown.setdefault((entry.org, entry.kid), []).append(entry.n)
        for (org, kid), entries in unknown.items():
            which = listed([str(n) for n in sorted(entries)])
            said = f"Nobody says how the owner of the key of {case.person(org, kid)} ({org}) was identified; it signed entries {which}."
            yield Hit(form.number, said, entries=tuple(sorted(entries)), excuses=kid)
    for proposed in (case.sealing, case.shipping):
        if proposed and _is_unchecked(case, proposed.org, proposed.kid):
            said = f"Nobody says how the owner of the key of {case.person(proposed.org, proposed.kid)} ({proposed.org}) was identified."
            yield Hit(proposed.envelope, said, "block", excuses=proposed.kid)


@rule(
    "SI-10", "A signer has not got the ledger's answer", "warn", "records", "40 CFR 3.2000(b)(4), by CROMERR lessons: a copy of record for whoever signed",
    "Let the device fetch what was recorded (`bailee send`), or give the person a copy of the custody record (`bailee "
    "record FORM -o …`).",
)  # fmt: skip
def copy_given(case: Case) -> Iterator[Hit]:
    """Long after a statement was recorded its device speaks on the form again, and still has not seen it there."""
    for form in case.forms.values():
        by_leaf = {entry.leaf: entry for entry in form.entries}
        made: dict[str, list[Recorded]] = {}
        for entry in form.entries:
            made.setdefault(entry.kid, []).append(entry)
        for entries in made.values():
            worst: tuple[Recorded, Recorded] | None = None
            for earlier, later in pairwise(sorted(entries, key=lambda each: each.seq)):
                seen = by_leaf[later.after].n if later.after in by_leaf else 0
                silent = later.at.instant - earlier.rec
                if seen < earlier.n and hours(silent) > case.policy(form).copy_h:
                    worst = worst or (earlier, later)
            if worst:
                earlier, later = worst
                said = (
                    f"{case.person(later.org, later.kid)} signed {_act(earlier)}, recorded on {clock_at(earlier.rec, later.at)} as entry "
                    f"{earlier.n}; {duration_words(later.at.instant - earlier.rec)} later the device had not seen it in the ledger."
                )
                yield Hit(form.number, said, entries=(earlier.n, later.n), by=("copy_h",))


@rule(
    "SI-12", "Quality role allows what rests on its own statement", "block", "custody", "common practice: two persons",
    "Let a second person of the quality role look at it and sign the exception: `bailee except … ABOUT --reason …`.",
)  # fmt: skip
def not_ones_own(case: Case) -> Iterator[Hit]:
    """Beyond whom the exception excuses (SI-11): whoever made a statement the finding rests on. Such an exception allows nothing."""
    for form in case.forms.values():
        for said in form.exceptions:
            body = said.of(Excepted)
            known = RULES.get(body.rule)
            is_quality = case.role(said.entry.org, said.entry.kid) == "quality"
            if known is None or not known.may_be_excepted or not is_quality:
                continue
            own = any(
                said.entry.kid in speakers and said.entry.kid not in doers
                for doers, speakers in barred(case, known, body.about)
            )
            if own and not is_allowed(case, known, body.about):
                who = case.person(said.entry.org, said.entry.kid)
                about = grouped(body.about) if kind_of(body.about) else body.about
                sentence = f"{who} allowed {body.rule} for {about} (entry {said.entry.n}), which rests on what {who} said."
                yield Hit(body.about, sentence, entries=(said.entry.n,))


def _is_unchecked(case: Case, org: str, kid: str) -> bool:
    organisation = case.organisations.get(org)
    key = organisation.keys.get(kid) if organisation else None
    return key is not None and key.identity_check is None


def _act(entry: Recorded) -> str:
    return entry.act.replace("_", " ")
