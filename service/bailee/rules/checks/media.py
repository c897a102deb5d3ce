"""The media lot: known, in date, not recalled.

In date is decided on the calendar day of the site, the printed day included; a month alone means its last
day. A recall is compared with the time of collection: before it the cassette was used in good faith (ML-07),
after it against the recall (ML-06). A lot with no form beside it is being looked at to be issued; the visit
it is for is not known then.

The lot on its shelf: counted, kept neither too cold nor too hot, its expiry set right, not handed out for a
day it will not last.

Asked of every lot in the case, with samples beside it or alone. Its limits are those of a form it was used
on, else of its owner.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Final

from bailee.domain.acts.form import Opened, Received, TakenIn
from bailee.domain.custody import Form, Sample
from bailee.domain.lots import Lot, Recall
from bailee.domain.measures import warmth_text
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.domain.policy import Policy
from bailee.rules.case import Case, Elsewhere
from bailee.rules.checks.labels import accounted
from bailee.rules.readers import ToldAct
from bailee.rules.registry import RULES, Finding, Hit, alike, rule
from bailee.rules.remedies import act, advice, before_it_left, do, for_all, on_site
from bailee.rules.wording import clock, counted, day, printed, were

_WRONG_EXPIRATION: Final = advice(
    "Correct an expiration date that was entered wrongly.", do("expiry_corrected", "lot", new=..., reason=...)
)


@rule(
    "ML-01",
    "Lot not on record",
    "block",
    "media",
    "49 CFR 40.199(b)(9) by analogy; common practice",
    advice(
        "Read the box: enter a lot that was never entered, or correct the lot number. A lot of another"
        " organization is known here when it issued the number to one of your keys.",
        do("lot_received"),
        do("corrected", "sample", field="lot", new=..., reason="typing"),
    ),
)
def unknown_lot(case: Case) -> Iterator[Hit]:
    """The form leans on no lot of the number that the sample names, be it that there is none or that it is a
    stranger's: nothing of it is checked.
    """
    return alike(
        (
            (form, sample, sample.lot)
            for form, sample in case.samples()
            if sample.lot and case.lot_of(sample) is None
        ),
        lambda found, lot: (
            f"{_listed(found)} {'names' if len(found) == 1 else 'name'} lot {grouped(lot)}; no such lot is on"
            " record here."
        ),
    )


@rule(
    "ML-02",
    "Cassette expired at collection",
    "block",
    "media",
    "49 CFR 40.199(b)(8) by analogy; common practice",
    on_site(
        "Still on site: collect again with an unexpired cassette, and void this one.",
        do("voided", "sample", reason="expired"),
    )
    + _WRONG_EXPIRATION,
    may_be_excepted=True,
    afterwards=for_all(
        "It cannot be collected again now. The laboratory decides: result qualified, or rejected.",
        do("accepted", "sample", qualified=True),
        do("rejected", "sample", reason="media_expired"),
    )
    + _WRONG_EXPIRATION,
)
def expired(case: Case) -> Iterator[Hit]:
    """Collected, on the calendar day of the site, later than the last day in date and the days of grace."""
    return alike(
        _expired(case),
        lambda found, so: (
            f"{_listed(found)} {were(found)} collected on {so[0]}; lot {so[1]} expired after {so[2]}."
        ),
        by=("expiry_grace_days",),
    )


def _expired(case: Case) -> Iterator[tuple[Form, Sample, tuple[str, str, str]]]:
    """With each: the day of collection, the lot, its last good day and how long ago that was."""
    for form, sample, lot in _of_known_lots(case):
        used = form.day_of(sample.taken_at)
        then = lot.on(used, case.policy(form))
        if then and not then.may_be_used:
            yield form, sample, (day(used), _named(lot), f"{day(then.last)} ({counted(then.past, 'day')})")


@rule(
    "ML-03", "No expiration date on record", "block", "media", "49 CFR 40.199(b)(9) by analogy",
    advice(
        "Read the expiration date on the box and enter it.",
        do("expiry_corrected", "lot", new=..., reason="left_out"),
    )
    + before_it_left("If none is printed, use another lot."),
)  # fmt: skip
def no_expiry(case: Case) -> Iterator[Hit]:
    """No expiry was entered: each sample of the lot, or the lot itself while it is looked at alone."""
    yield from alike(
        ((form, sample, _named(lot)) for form, sample, lot in _of_known_lots(case) if _lacks_date(lot)),
        lambda found, lot: (
            f"{_listed(found)} {'comes' if len(found) == 1 else 'come'} from lot {lot}, which has no"
            " expiration date on record."
        ),
    )
    for lot in _alone(case):
        if _lacks_date(lot):
            yield Hit(lot.number, f"Lot {_named(lot)} has no expiration date on record.")


@rule(
    "ML-05", "Lot near its expiration date", "note", "media", "common practice, no source",
    advice(
        "Use this lot first. List the other lots.",
        do("look_at_lots"),
    ),
)  # fmt: skip
def near_expiry(case: Case) -> Iterator[Hit]:
    """In date, with no more than so many days left on the day of use (of a lot alone: today), the last day
    included.
    """
    latest: dict[str, tuple[date, Policy]] = {}
    for form, sample, lot in _of_known_lots(case):
        used = form.day_of(sample.taken_at)
        if lot.number not in latest or used > latest[lot.number][0]:
            latest[lot.number] = used, case.policy(form)
    for lot in _alone(case):
        owner = case.organizations.get(lot.org)
        latest[lot.number] = case.at.local_date, owner.policy if owner else Policy()
    for number, (used, policy) in latest.items():
        lot = case.lots[number]
        then = lot.on(used, policy)
        if then and then.is_near:
            left = counted(then.left, "day")
            yield Hit(
                number,
                f"On {day(used)} lot {_named(lot)} had {left} to go: its expiration date is"
                f" {day(then.last)}.",
                by=("expiry_near_days",),
            )


@rule(
    "ML-06", "Cassette from a lot recalled before collection", "block", "media", "common practice, no source",
    before_it_left("Set the cassettes of this lot aside.")
    + on_site(
        "Still on site: collect again with another lot, and void this one.",
        do("voided", "sample", reason="other"),
    ),
    may_be_excepted=True,
    afterwards=for_all(
        "The laboratory is notified and decides: result qualified, or rejected.",
        do("accepted", "sample", qualified=True), do("rejected", "sample", reason="other"),
    ),
)  # fmt: skip
def recalled_before_use(case: Case) -> Iterator[Hit]:
    """A recall or hold is in force, and the cassette was used after it was recorded, or is about to be
    issued.
    """
    for _, sample, lot in _of_known_lots(case):
        recall = lot.recalled
        if recall and sample.taken_at.instant >= recall.since:
            yield Hit.on(
                sample,
                f"{grouped(sample.number)} was collected on {clock(sample.taken_at)}, after lot"
                f" {_named(lot)} was recalled on {_recorded(recall)} ({recall.reason}).",
            )
    for lot in _alone(case):
        if lot.recalled:
            yield Hit(lot.number, _is_recalled(lot, lot.recalled))


@rule(
    "ML-07", "Lot recalled after use", "flag", "media",
    "common practice, no source; notice to those concerned: 15A NCAC 02H .0805 by analogy",
    advice(
        "List the samples of this lot, and notify the laboratory and the client. The laboratory states "
        "this with the result.",
        do("find_uses", "lot"),
    ),
)  # fmt: skip
def recalled_after_use(case: Case) -> Iterator[Hit]:
    """A recall is in force that was recorded after the cassette was used: says where the sample lies and who
    holds it.
    """
    return alike(_used_before_recall(case), _say_recalled_after_use)


_Recalled = tuple[str, str, str]


def _used_before_recall(case: Case) -> Iterator[tuple[Form, Sample, _Recalled]]:
    """With each: the recall, the day of collection, and where it is now."""
    for form, sample, lot in _of_known_lots(case):
        recall = lot.recalled
        if recall and sample.taken_at.instant < recall.since:
            envelope = f"in envelope {grouped(sample.envelope)}" if sample.envelope else "in no envelope"
            holder = f"held by {sample.holder.org}" if sample.holder else "with no holder on record"
            where = f"{envelope}, {holder}, for {form.opened.of(Opened).parties.lab}"
            yield form, sample, (_is_recalled(lot, recall), day(form.day_of(sample.taken_at)), where)


def _say_recalled_after_use(found: Sequence[Sample], so: _Recalled) -> str:
    recall, on, where = so
    collected = f"{_listed(found)} {were(found)} collected on {on}"
    it = "It is" if len(found) == 1 else "They are"
    return f"{recall.removesuffix('.')}, after {collected}. {it} {where}."


@rule(
    "ML-08", "Lot expired between collection and receipt", "note", "media", "common practice, no source",
    "Nothing to do: the day of collection counts.",
)  # fmt: skip
def expired_on_the_way(case: Case) -> Iterator[Hit]:
    """In date when collected, out of date when the laboratory received the envelope."""
    return alike(
        _expired_on_the_way(case),
        lambda found, so: (
            f"{_listed(found)} {were(found)} collected by the expiration date of lot {so[0]}, {so[1]}; the"
            f" laboratory received {'it' if len(found) == 1 else 'them'} on {so[2]}."
        ),
    )


def _expired_on_the_way(case: Case) -> Iterator[tuple[Form, Sample, tuple[str, str, str]]]:
    for form, sample, lot in _of_known_lots(case):
        docked, policy = _docked_on(sample), case.policy(form)
        used = lot.on(form.day_of(sample.taken_at), policy)
        arrived = lot.on(docked, policy) if docked else None
        if docked and used and arrived and used.in_date and not arrived.in_date:
            yield form, sample, (_named(lot), day(used.last), day(docked))


@rule(
    "ML-11", "Samples of one visit from several lots", "warn", "media", "common practice, no source",
    advice(
        "Nothing to fix if it is so: it is printed on the custody record. Correct a lot that was typed "
        "wrongly.",
        do("corrected", "sample", field="lot", new=..., reason="typing"),
    ),
)  # fmt: skip
def mixed_lots(case: Case) -> Iterator[Hit]:
    """The live samples of one visit come from more than one lot, where the firm wants one."""
    for form, _ in case.visits():
        lots: dict[str, list[str]] = {}
        for sample in form.air:
            lots.setdefault(sample.taken.lot, []).append(sample.number)
        if len(lots) > 1 and case.policy(form).same_lot_wanted:
            listed = "; ".join(f"lot {grouped(lot)}: {printed(samples)}" for lot, samples in lots.items())
            said = f"The samples of this visit come from {len(lots)} lots ({listed})."
            yield Hit(form.number, said, by=("same_lot_wanted",))


def _of_known_lots(case: Case) -> Iterator[tuple[Form, Sample, Lot]]:
    for form, sample in case.samples():
        lot = case.lot_of(sample)
        if lot:
            yield form, sample, lot


def _lacks_date(lot: Lot) -> bool:
    """A bag or jar for bulk material has none to lack."""
    return lot.expires is None and lot.cassette != "container"


def _alone(case: Case) -> Iterator[Lot]:
    return iter(() if case.forms else case.lots.values())


def _docked_on(sample: Sample) -> date | None:
    """The calendar day on which the laboratory had it, opened or not."""
    for link in sample.links:
        body = link.received.body
        if isinstance(body, TakenIn) or (isinstance(body, Received) and body.dock):
            return link.since.local_date
    return None


def _is_recalled(lot: Lot, recall: Recall) -> str:
    return f"Lot {_named(lot)} was recalled on {_recorded(recall)} ({recall.reason})."


def _recorded(recall: Recall) -> str:
    """When the ledger learned of it: universal time, for the ledger has no other."""
    return clock(Moment(recall.since.replace(microsecond=0), 0))


def _listed(found: Sequence[Sample]) -> str:
    return printed(sample.number for sample in found)


def _named(lot: Lot) -> str:
    return f"{grouped(lot.number)} ({lot.maker_lot})"


@rule(
    "ML-04",
    "Issued for a visit after the expiration date",
    "warn",
    "media",
    "common practice, no source",
    advice(
        "Remove these cassettes from the kit. List which lots are unexpired on the day of the visit, and"
        " issue others from one of them.",
        do("look_at_lots"),
        do("issued", lot=..., count=...),
    ),
)
def issued_too_late(case: Case) -> Iterator[Hit]:
    """Issued for a day later than the last good one and the days of grace, and not used yet.

    Once used, ML-02 speaks.
    """
    for lot, policy in _lots(case):
        by_visit: dict[date, list[str]] = {}
        for number, issued in lot.issued.items():
            if issued.visit and not accounted(case, number, case.elsewhere or Elsewhere()):
                by_visit.setdefault(issued.visit, []).append(number)
        for visit, numbers in sorted(by_visit.items()):
            then = lot.on(visit, policy)
            if then is None or then.may_be_used:
                continue
            yield Hit(
                lot.number,
                f"{counted(len(numbers), 'cassette')} of lot {_named(lot)}"
                f" {('was' if len(numbers) == 1 else 'were')} issued for {day(visit)},"
                f" {counted(then.past, 'day')} after its expiration date, {day(then.last)}:"
                f" {printed(numbers)}.",
                by=("expiry_grace_days",),
            )


@rule(
    "ML-09", "Count of a lot does not add up", "warn", "media", "common practice, no source",
    advice(
        "Count the shelf again, and record what is there. Search for cassettes handed out without a "
        "number, or discarded and not recorded.",
        do("counted", "lot", remaining=..., voided=...),
    ),
)  # fmt: skip
def adds_up(case: Case) -> Iterator[Hit]:
    """At the newest count: issued by then, left and voided unused must make what was received, exactly."""
    for lot, _ in _lots(case):
        if lot.counted:
            left, voided = lot.counted.remaining, lot.counted.voided
            made = lot.issued_when_counted + left + voided
            if made != lot.count:
                yield Hit(
                    lot.number,
                    f"{counted(lot.count, 'cassette')} of lot {_named(lot)} received;"
                    f" {lot.issued_when_counted} issued, {left} on the shelf and {voided} voided add up to"
                    f" {made}.",
                )


@rule(
    "ML-10", "Expiration date corrected", "note", "media", "49 CFR 40.208 by analogy",
    advice(
        "Compare with the box when it is still there: the corrected expiration date is the one that "
        "counts. Correct it again if it is wrong.",
        do("expiry_corrected", "lot", new=..., reason=...),
    ),
)  # fmt: skip
def expiry_corrected(case: Case) -> Iterator[Hit]:
    """Every correction of the lot's expiry, with both values and who signed it."""
    for lot, _ in _lots(case):
        for made in lot.other_expiries:
            yield Hit(
                lot.number,
                f"The expiration date of lot {_named(lot)} was entered as {made.old or 'none'} and corrected"
                f" to {made.new} by {case.person(lot.org, made.kid)} ({made.reason.replace('_', ' ')}; entry"
                f" {made.n} of the lot).",
            )


@rule(
    "ML-12", "Storage temperature outside limits", "note", "media", "common practice, no source",
    advice(
        "Ask the maker whether the lot may still be used. If it may not be used, recall it.",
        do("recalled", "lot", reason=...),
    ),
)  # fmt: skip
def storage(case: Case) -> Iterator[Hit]:
    """A temperature of storage below or above the wanted range, both limits included in it.

    Not read is left alone.
    """
    for lot, policy in _lots(case):
        low, high = policy.media_storage_min_c, policy.media_storage_max_c
        colder = [
            each.coldest_c for each in lot.storage if each.coldest_c is not None and each.coldest_c < low
        ]
        hotter = [
            each.warmest_c for each in lot.storage if each.warmest_c is not None and each.warmest_c > high
        ]
        extremes = {
            "media_storage_min_c": min(colder, default=None),
            "media_storage_max_c": max(hotter, default=None),
        }
        read = {name: value for name, value in extremes.items() if value is not None}
        if read:
            yield Hit(
                lot.number,
                f"Lot {_named(lot)} was stored at {' and '.join(map(warmth_text, read.values()))};"
                f" limits {warmth_text(low)} to {warmth_text(high)}.",
                by=tuple(read),
            )


def _lots(case: Case) -> Iterator[tuple[Lot, Policy]]:
    used = {s.lot: form for form in case.forms.values() for s in form.live if s.lot}
    for lot in case.lots.values():
        owner = case.organizations.get(lot.org)
        if lot.number in used:
            yield lot, case.policy(used[lot.number])
        else:
            yield lot, owner.policy if owner else Policy()


def of_an_issue(lot: Lot, count: int, today: date, visit: date | None, policy: Policy) -> Iterator[Finding]:
    """What speaks against handing out so many numbers today for a visit: asked before there is a sample."""
    now, then = lot.on(today, policy), lot.on(visit, policy) if visit else None
    named = f"{grouped(lot.number)} ({lot.maker_lot})"
    if now and not now.may_be_used:
        yield _of_the_issue(
            lot,
            "ML-02",
            f"Lot {named} expired {counted(now.past, 'day')} ago: its expiration date was {day(now.last)}.",
            "Read the date on the box again: if it was entered wrongly, correct it. Otherwise set the"
            " cassettes of this lot aside and issue from an unexpired one.",
            act("expiry_corrected", lot=lot.number, new=None, reason="misread"),
        )
    elif visit and then and not then.may_be_used:
        yield _of_the_issue(
            lot,
            "ML-04",
            f"The visit of {day(visit)} is {counted(then.past, 'day')} after the expiration date of lot"
            f" {named}, {day(then.last)}.",
            "Issue from a lot that is unexpired on the day of the visit.",
        )
    if lot.recalled:
        yield _of_the_issue(lot, "ML-06", _is_recalled(lot, lot.recalled), "Use another lot.")
    if count > lot.left:
        yield _of_the_issue(
            lot,
            "ML-09",
            f"{counted(count, 'number')} asked for, and lot {named} has"
            f" {counted(max(lot.left, 0), 'cassette')} more: {lot.count} received, {len(lot.issued)} have a"
            " number.",
            "Count the shelf, or issue fewer.",
            act("counted", lot=lot.number, remaining=None, voided=None),
        )


def _of_the_issue(lot: Lot, number: str, sentence: str, remedy: str, *acts: ToldAct) -> Finding:
    known = RULES[number]
    return Finding(known.id, known.severity, known.area, lot.number, sentence, remedy, acts=acts)
