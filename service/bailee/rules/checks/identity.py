"""SI: who signed, and were they allowed to? And CU-16: who corrected what.

Whether a signature is genuine is decided where signatures are checked; here every statement is one that its
key really signed.

SI: whether a key is one person's, known and informed; and whether quality work is checked by a second person.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import Any, Final

from bailee.domain.acts.form import Collected, Decision, Excepted, Received, Sealed, Shipped, Voided
from bailee.domain.acts.table import ROWS
from bailee.domain.authorization import affirmed, doubt
from bailee.domain.corrections import Correction, quoted
from bailee.domain.custody import Form
from bailee.domain.moments import Moment, duration_words, hours
from bailee.domain.numbers import grouped, kind_of
from bailee.domain.organizations import Key, Revocation
from bailee.domain.statements import Draft, Recorded
from bailee.rules.case import Case
from bailee.rules.registry import RULES, Hit, Severity, barred, is_allowed, refusal, rule
from bailee.rules.remedies import Remedy, advice, do, for_all
from bailee.rules.wording import clock, clock_at, listed

refusal(
    "SI-01",
    "Entry not signed",
    "21 CFR 11.10; 49 CFR 40.199, by analogy",
    "bailee.signing.signed_statement.read",
)


_AFFIRM: Final = (
    "Ask the person whether these entries are theirs; if so they affirm them with their new key, enrolled as"
    " the same person's."
)


@rule(
    "SI-02",
    "Key not valid for this entry",
    "flag",
    "records",
    "40 CFR 3.2000(b): signature valid when signed",
    advice(_AFFIRM, do("affirmed", "form", statements=...)),
)
def key_stood(case: Case) -> Iterator[Hit]:
    """Beyond the count its owner vouches for, or after the report.

    Affirmed with another key: a note. What may be somebody else's, only its own person affirms: a colleague's
    word that it is theirs changes nothing.
    """
    for form in case.forms.values():
        vouched = affirmed(form.ordered, case.organizations)
        for entry, key in _signed(case, form):
            if key is None:
                said = (
                    f"Entry {entry.n} ({_act(entry)}) is signed with key {entry.kid[:8]}, which {entry.org}"
                    " never enrolled."
                )
                yield Hit(form.number, said, entries=(entry.n,))
            elif key.revocation and (why := doubt(key, entry)):
                said = _ended(case, entry, key.revocation, late=why == "late")
                by = vouched.get(entry.digest)
                counts = by is not None and (why == "late" or form.same(by.kid, entry.kid))
                if by:
                    other = "" if counts else ", whose key is not enrolled as the same person's"
                    said += f" {case.person(by.org, by.kid)} affirmed it (entry {by.n}){other}."
                severity: Severity = "note" if counts else "warn" if why == "late" else "flag"
                yield Hit(form.number, said, severity, entries=(entry.n,), remedy=_affirm(entry))


def _affirm(entry: Recorded) -> Remedy:
    """The act with the id of the entry, which its owner cannot look up on a device that is lost."""
    return advice(_AFFIRM, do("affirmed", "form", statements=entry.digest))


def _ended(case: Case, entry: Recorded, ended: Revocation, *, late: bool) -> str:
    owner = case.person(entry.org, entry.kid)
    if late:
        return (
            f"Entry {entry.n} ({_act(entry)}) arrived on {clock(Moment(entry.rec, entry.at.offset_minutes))},"
            f" after the key of {owner} was reported {ended.reason}; its owner confirmed entries up to this"
            " number and beyond."
        )
    since = clock(Moment.parse(ended.since))
    how = "replaced by its owner" if ended.successor else f"revoked ({ended.reason})"
    return (
        f"Entry {entry.n} ({_act(entry)}) is signed with the key of {owner} that was {how} from {since}"
        f" on; its last confirmed entry is number {ended.last_good_seq}, this is number {entry.seq}."
    )


@rule(
    "SI-03",
    "Signed without the role for it",
    "warn",
    "custody",
    "21 CFR 11.10(g): authority checks",
    advice(
        "Leave it to a person whose role includes it. If this person did it, record it: the warning stays; an"
        " administrator assigns the role with a key of its own.",
        do("enrolled", kid=..., role=..., identity_check=...),
    ),
)
def role_fits(case: Case) -> Iterator[Hit]:
    """What was done to the glass is recorded and warned of; an act of administration or decision is refused
    before it is recorded.

    Before it is signed it is said of whoever is about to seal, hand over, take or void.
    """
    for draft in case.drafts:
        role, may = case.role(draft.org, draft.kid), draft.row.may
        if role and role not in may:
            others = listed([each.replace("_", " ") for each in sorted(may)])
            said = (
                f"{case.person(draft.org, draft.kid)} is about to sign {draft.act} as"
                f" {role.replace('_', ' ')}, which that role does not include: {others} may."
            )
            yield Hit(_thing(draft), said, "warn", is_proposed=True)
    for form in case.forms.values():
        beyond: dict[tuple[str, str], list[Recorded]] = {}
        for entry, key in _signed(case, form):
            if key and key.role not in entry.row.may:
                beyond.setdefault((entry.kid, entry.act), []).append(entry)
        for (kid, act), spoken in beyond.items():
            first, entries = spoken[0], [entry.n for entry in spoken]
            role = case.organizations[first.org].keys[kid].role.replace("_", " ")
            said = (
                f"{case.person(first.org, kid)} signed {_act(first)} as {role} ({_entries(entries)}), which"
                " that role does not include."
            )
            yield Hit(form.number, said, "warn" if ROWS[act].physical else "flag", entries=tuple(entries))


@rule(
    "SI-11", "Exception signed by the same person", "block", "custody", "common practice: two persons",
    advice(
        "A second person reviews and signs the exception.",
        do("excepted", "about", rule=..., reason=...),
    ),
)  # fmt: skip
def second_person(case: Case) -> Iterator[Hit]:
    """Such an exception excuses nothing; it is said, because its signer believes it does."""
    for form in case.forms.values():
        for said in form.exceptions:
            body = said.of(Excepted)
            known = RULES.get(body.rule)
            if known is None or not known.may_be_excepted:
                continue
            is_quality = case.role(said.entry.org, said.entry.kid) == "quality"
            own = any(
                said.entry.kid in doers or (not is_quality and said.entry.kid in speakers)
                for doers, speakers in barred(case, known, body.about)
            )
            if own and not is_allowed(case, known, body.about):
                who = case.person(said.entry.org, said.entry.kid)
                sentence = (
                    f"{who} allowed {body.rule} for {_printed(body.about)} (entry {said.entry.n}) and"
                    f" {_part_in_it(case, said.entry.kid)}; another person must allow it."
                )
                yield Hit(body.about, sentence, entries=(said.entry.n,))


@rule(
    "CU-16", "Correction", "note", "custody", "21 CFR 11.10(e): the old value stays visible; 49 CFR 40.205",
    for_all("Nothing to fix: both values are printed on the custody record."),
)  # fmt: skip
def corrections(case: Case) -> Iterator[Hit]:
    """By the signer of the statement or a quality role.

    By anybody else it is warned of, and so is one not followed, or one that names a cavity too late.
    """
    for form in case.forms.values():
        for made in form.corrections:
            entry, target, body = made.entry, made.target, made.body
            who = case.person(entry.org, entry.kid)
            about = f"entry {target.n} ({_act(target)})" if target else "an entry"
            said = (
                f"{who} corrects {body.field} of {about} from {quoted(body.old)} to {quoted(body.new)}"
                f" ({body.reason.replace('_', ' ')})"
            )
            severity: Severity = "note"
            remedy = None
            if made.why_not:
                severity, said = "warn", f"{said}; it does not count: {made.why_not}"
                remedy = _IN_VAIN
            elif target and not form.same(entry.kid, target.kid) and _role(case, entry) != "quality":
                severity, said = "warn", f"{said}, and neither signed that entry nor has the quality role"
                remedy = for_all(f"Ask {case.person(target.org, target.kid)} which value is right.")
            if not made.why_not and _names_a_cavity(form, made):
                severity, said = (
                    "warn",
                    f"{said}; no cavity was signed at collection: it is judged as room air",
                )
                remedy = _ROOM_AIR
            yield Hit(
                form.number,
                f"{said.removesuffix('.')}.",
                severity,
                entries=(entry.n, *((target.n,) if target else ())),
                remedy=remedy,
            )


_IN_VAIN: Final = for_all(
    "The old value counts. If the new one is right, a person who may correct that entry signs it again.",
    do("corrected", "form", of=..., field=..., new=..., reason=...),
)


_ROOM_AIR: Final = for_all(
    "What is asked of room air stays asked. Still on site: collect from the cavity again and sign it so."
)


def _names_a_cavity(form: Form, made: Correction) -> bool:
    """Whether a correction says of a cassette that was signed as room air that it is of a cavity."""
    signed = form.as_signed(made.target).body if made.target else None
    is_of_cavity = made.body.field.partition(".")[0] == "cavity"
    return is_of_cavity and isinstance(signed, Collected) and signed.cavity is None


def _thing(draft: Draft[Any]) -> str:
    """What is about to be acted on: an envelope, or the first sample named."""
    match draft.body:
        case Received() as body:
            return body.items[0].sample
        case Voided() as body:
            return body.sample
        case Decision() as body:
            return body.samples[0]
        case _:
            return str(draft.body.envelope)


def _signed(case: Case, form: Form) -> Iterator[tuple[Recorded, Key | None]]:
    """Every statement with its key.

    Those of an organization whose chain is not here are left out, and the verdict says so.
    """
    for entry in form.ordered:
        organization = case.organizations.get(entry.org)
        if organization:
            yield entry, organization.keys.get(entry.kid)


def _role(case: Case, entry: Recorded) -> str:
    organization = case.organizations.get(entry.org)
    key = organization.keys.get(entry.kid) if organization else None
    return key.role if key else ""


def _entries(numbers: Iterable[int]) -> str:
    said = [str(number) for number in numbers]
    return f"{'entry' if len(said) == 1 else 'entries'} {listed(said)}"


def _part_in_it(case: Case, kid: str) -> str:
    """What the signer of an exception has to do with what it allows."""
    for draft, does in ((case.draft(Sealed), "sealing"), (case.draft(Shipped), "shipping the envelope")):
        if draft and kid in case.hands([draft.kid]):
            return f"is also {does}"
    return "also did it, or signed the entry it rests on"


def _printed(about: str) -> str:
    return grouped(about) if kind_of(about) else about


def _act(entry: Recorded) -> str:
    return entry.act.replace("_", " ")


refusal(
    "SI-05",
    "One key enrolled for two people",
    "ALCOA: attributable, by summary; common practice: one key, one person",
    "bailee.operations.register.require_own_key",
)
refusal(
    "SI-14",
    "The service's own key enrolled to sign for a person",
    "40 CFR 3.2000(b): signed by the person; 21 CFR 11.10",
    "bailee.operations.register.require_own_key",
)


@rule(
    "SI-07",
    "Key enrolled without an identity check",
    "block",
    "records",
    "EPA CROMERR lessons 5 and 6: identity proofed before a key is used",
    advice(
        "An administrator checks who owns the key, and enrolls it once more with how that was checked.",
        do("enrolled", kid=..., role=..., identity_check=...),
    ),
)
def owner_known(case: Case) -> Iterator[Hit]:
    """Every key that spoke on a form, and the one about to seal or ship."""
    for form in case.forms.values():
        unknown: dict[tuple[str, str], list[int]] = {}
        for entry in form.ordered:
            if _is_unchecked(case, entry.org, entry.kid):
                unknown.setdefault((entry.org, entry.kid), []).append(entry.n)
        for (org, kid), entries in unknown.items():
            which = listed([str(n) for n in sorted(entries)])
            said = (
                f"No entry shows how the owner of the key of {case.person(org, kid)} ({org}) was identified;"
                f" it signed entries {which}."
            )
            yield Hit(form.number, said, entries=tuple(sorted(entries)), excuses=kid)
    for proposed in (case.draft(Sealed), case.draft(Shipped)):
        if proposed and _is_unchecked(case, proposed.org, proposed.kid):
            said = (
                f"No entry shows how the owner of the key of {case.person(proposed.org, proposed.kid)}"
                f" ({proposed.org}) was identified."
            )
            yield Hit(proposed.body.envelope, said, "block", excuses=proposed.kid)


@rule(
    "SI-10",
    "No copy of the record sent to a signer",
    "warn",
    "records",
    "40 CFR 3.2000(b)(4), by CROMERR lessons: a copy of record for each signer",
    advice(
        "Fetch on the device what was recorded, or print a copy of the custody record for the person.",
        do("send_waiting"),
        do("print_record", "form"),
    ),
)
def copy_given(case: Case) -> Iterator[Hit]:
    """Long after a statement was recorded its device speaks on the form again, and still has not seen it
    there.
    """
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
                    f"{case.person(later.org, later.kid)} signed {_act(earlier)}, recorded on"
                    f" {clock_at(earlier.rec, later.at)} as entry {earlier.n};"
                    f" {duration_words(later.at.instant - earlier.rec)} later the device had not seen it in"
                    " the ledger."
                )
                yield Hit(form.number, said, entries=(earlier.n, later.n), by=("copy_h",))


@rule(
    "SI-12",
    "Exception signed by the person whose own entry it rests on",
    "block",
    "custody",
    "common practice: two persons",
    advice(
        "A second person of the quality role reviews and signs the exception.",
        do("excepted", "about", rule=..., reason=...),
    ),
)
def not_ones_own(case: Case) -> Iterator[Hit]:
    """Beyond whom the exception excuses (SI-11): whoever made a statement the finding rests on.

    Such an exception allows nothing.
    """
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
                sentence = (
                    f"{who} allowed {body.rule} for {about} (entry {said.entry.n}), which rests on an entry"
                    f" of {who}'s own."
                )
                yield Hit(body.about, sentence, entries=(said.entry.n,))


def _is_unchecked(case: Case, org: str, kid: str) -> bool:
    organization = case.organizations.get(org)
    key = organization.keys.get(kid) if organization else None
    return key is not None and key.identity_check is None
