"""RC: the laboratory's answer: whether the sender was called, and whether what was accepted is reported as it
was found.

RC: copies of the record, and results, that were given out: which version counts, and whether it is out of
date.

The log holds statements, not papers. Whoever gives a copy out says its version and how far it reads; a single
version replaces nothing and is left alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import islice
from typing import Final

from bailee.domain.acts.form import (
    Copied,
    Decision,
    Disposed,
    Forwarded,
    LabNumbered,
    Opened,
    Received,
    Stored,
    Voided,
    Withdrawn,
)
from bailee.domain.acts.table import ACCEPTED, ON_HOLD, REJECTED, done_at, name_of
from bailee.domain.custody import Envelope, Form, Said, Sample
from bailee.domain.fields import Role
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.domain.statements import Draft, Recorded
from bailee.frozen import frozen
from bailee.rules import qualified
from bailee.rules.case import Case
from bailee.rules.checks.envelope.at_the_dock import close_of_day
from bailee.rules.registry import Hit, Severity, rule, shared
from bailee.rules.remedies import Remedy, advice, by, do, for_all
from bailee.rules.wording import clock, clock_at, listed, printed, samples, start

_CALL: Final = advice(
    "Call the sampling firm now, and enter when, whom, the reply, and the decision: on hold, or accepted.",
    do("on_hold", "envelope", called=..., called_person=..., answer=...),
    do("accepted", "envelope", called=...),
)
_CALLED_BEFORE: Final = advice(
    "If that call was about them, correct its time; otherwise call now, and enter when.",
    do("corrected", "form", of=..., field="called", new=..., reason="clock"),
    do("on_hold", "envelope", called=..., called_person=..., answer=...),
)


_OF_THE_SEAL: Final = frozenset({"RC-01", "RC-02"})
"""What can be seen before an envelope is opened."""


@frozen
class Differing:
    """An envelope in which the dock found differences: by which rules, by when its sender is to be called,
    and when that was done.

    `early`: the newest call whose time lies before the opening.
    """

    envelope: str
    form: Form
    hits: tuple[tuple[str, Hit], ...]
    entry: int
    received: Moment
    due: datetime
    called: Moment | None
    early: Moment | None = None

    @property
    def rules(self) -> list[str]:
        """The rules that found something."""
        return sorted({name for name, _ in self.hits})


def differences_found(case: Case) -> Iterator[Differing]:
    """Every envelope of the case with a difference at the dock, when it was opened or taken in unopened.

    A call before that was about something else.
    """
    found: dict[str, list[tuple[str, Hit]]] = {}
    about = {e.number: _about(case, e.number) for _, e in case.envelopes() if e.arrived}
    for name, hit in qualified.differences(case) if about else ():
        for number, named in about.items():
            if hit.about in named:
                found.setdefault(number, []).append((name, hit))
    for number, hits in found.items():
        form, envelope = next((f, e) for f, e in case.envelopes() if e.number == number and e.arrived)
        finder = _found_by(envelope, hits)
        received = done_at(finder.body) if finder else None
        if finder is None or received is None:
            continue
        n = finder.entry.n
        due = close_of_day(case, form, n, received, case.policy(form).call_working_days)
        calls = sorted(_calls(case, number))
        called = next((at for at in calls if qualified.not_before(at, received)), None)
        early = next((at for at in reversed(calls) if not qualified.not_before(at, received)), None)
        yield Differing(number, form, tuple(hits), n, received, due, called, early)


def _found_by(envelope: Envelope, hits: Sequence[tuple[str, Hit]]) -> Said | None:
    """What found a difference first: the taking-in, where it saw the seal so, else the opening if there was
    one.
    """
    taken = envelope.taken_in.said if envelope.taken_in else None
    seen = taken and any(name in _OF_THE_SEAL and taken.entry.n in hit.entries for name, hit in hits)
    return taken if seen else envelope.docked


@rule(
    "RC-10", "Discrepancy, no call to the firm on record", "block", "custody",
    "15A NCAC 02H .0805: document, notify; ISO/IEC 17025:2017 7.4.3, by secondary summary", _CALL,
)  # fmt: skip
def sender_called(case: Case) -> Iterator[Hit]:
    """A warning until the working days for it are over.

    Grave after them, or once an affected sample was accepted. Called late: a warning.
    """
    for each in differences_found(case):
        number, entries = each.envelope, (each.entry,)
        what = (
            f"Discrepancies on receipt of envelope {grouped(number)}, {clock(each.received)}"
            f" ({listed(each.rules)})"
        )
        due = clock_at(each.due, each.received)
        if each.called is None:
            released = [
                sample
                for form in case.forms.values()
                for sample in form.samples.values()
                if sample.envelope == number and _accepted(sample)
                if any(qualified.bears_on(name, hit.about, sample) for name, hit in each.hits)
            ]
            severity: Severity = "block" if released or case.at.instant > each.due else "warn"
            already = f" Already accepted: {printed([s.number for s in released])}." if released else ""
            said = (
                f"{what}. The call on record, {clock(each.early)}, is before the opening; one after it is due"
                f" by {due}.{already}"
                if each.early
                else f"{what}; no call to the sampling firm on record: due by {due}.{already}"
            )
            remedy = _CALLED_BEFORE if each.early else None
            yield Hit(number, said, severity, entries, by=("call_working_days",), remedy=remedy)
        elif each.called.instant > each.due:
            said = f"{what}; the sampling firm was called on {clock(each.called)}; the call was due by {due}."
            yield Hit(number, said, "warn", entries, by=("call_working_days",))


@rule(
    "RC-15",
    "One laboratory number given to two samples",
    "block",
    "custody",
    "49 CFR 40.199, by analogy: one number, one thing; common practice",
    advice(
        "Assign one of them a new number, and check which report was issued under the old one.",
        do("accepted", "sample", lab_number=...),
    ),
)
def own_number(case: Case) -> Iterator[Hit]:
    """On the forms of the case, and wherever else the ledger knows the number.

    Every laboratory counts for itself.
    """
    given: dict[tuple[str, str], dict[str, tuple[Form, Sample, int]]] = {}
    for form in case.forms.values():
        for sample in form.samples.values():
            numbered = _numbered(sample)
            if numbered:
                org, number, n = numbered
                given.setdefault((org, number), {})[sample.number] = (form, sample, n)
    for (org, number), here in given.items():
        elsewhere = case.elsewhere.lab_numbers.get(f"{org}/{number}", ()) if case.elsewhere else ()
        known = {s for form in case.forms.values() for s in form.samples}
        others = sorted({*here, *(each for each in elsewhere if each not in known)})
        if len(others) > 1:
            for form, sample, n in here.values():
                said = f"{number}, a number of {org}, is on record for samples {printed(others)}."
                yield replace(shared(form, sample, said), entries=(n,))


@rule(
    "RC-16", "Accepted with a discrepancy, result not marked as qualified", "block", "custody",
    "15A NCAC 02H .0805: analyze with a qualified result; ISO/IEC 17025:2017 7.4.3, by secondary summary",
    advice(
        "Accept it again as qualified; the wording is printed on the custody record.",
        do("accepted", "sample", qualified=True),
    ),
)  # fmt: skip
def result_qualified(case: Case) -> Iterator[Hit]:
    """Only the samples a difference bears on: four good ones beside a missing fifth stay good."""
    found = list(qualified.differences(case))
    for form in case.forms.values():
        for sample in form.samples.values():
            hits = [(name, hit) for name, hit in found if qualified.bears_on(name, hit.about, sample)]
            if hits and _accepted(sample) and sample.decision and not sample.decision.of(Decision).qualified:
                what = listed(sorted({name for name, _ in hits}))
                said = (
                    f"{{samples}} {{was}} accepted with a discrepancy ({what}); no entry marks the result as"
                    " qualified."
                )
                yield replace(shared(form, sample, said), entries=(sample.decision.entry.n,))


@rule(
    "RC-17",
    "Rejected, re-sampling not decided",
    "note",
    "media",
    "15A NCAC 02H .0805: get another sample if possible",
    advice(
        "Record whether a new sample can be collected, and notify the sampling firm.",
        do("rejected", "sample", resample=...),
    ),
)
def new_sample(case: Case) -> Iterator[Hit]:
    """Possible, not possible, or asked for: any of the three is an answer."""
    for form in case.forms.values():
        for sample in form.samples.values():
            decision = sample.decision
            if decision and decision.entry.act == REJECTED and decision.of(Decision).resample is None:
                said = (
                    f"{{samples}} {{was}} rejected on {clock(decision.of(Decision).at)}; no entry shows"
                    " whether a new one can be collected."
                )
                yield replace(shared(form, sample, said), entries=(decision.entry.n,))


@rule(
    "RC-21",
    "Decided before receipt, or not by the laboratory",
    "flag",
    "custody",
    "21 CFR 11.10(f): checks of sequence",
    advice(
        "The laboratory records when and how it received them. If they never came, it records a rejection.",
        do("received", "envelope", "sample", dock=True),
        do("rejected", "sample", reason="identity"),
    ),
)
def received_before_decided(case: Case) -> Iterator[Hit]:
    """Accepted, put on hold or rejected with nobody at a laboratory having taken it over, or by their own
    times before that; or by others than that laboratory, which decides nothing. Samples of one decision are
    said together. Before it is signed it is stopped.
    """
    if deciding := case.draft(Decision):
        yield from _about_to_decide(case, deciding)
    for form in case.forms.values():
        yield from _by_others(case, form)
        apart = timedelta(seconds=case.policy(form).clock_warn_s)
        never: dict[int, list[tuple[Sample, Said]]] = {}
        early: dict[tuple[int, Moment], list[tuple[Sample, Said]]] = {}
        for sample in form.samples.values():
            arrived = form.arrival_of(sample)
            if arrived is None:
                unseen = (said for said in sample.decisions if _needs_it(sample, said.entry.act))
                for said in islice(unseen, 1):
                    never.setdefault(said.entry.n, []).append((sample, said))
            else:
                for said in sample.decisions[:1]:
                    if arrived.instant - said.of(Decision).at.instant > apart:
                        early.setdefault((said.entry.n, arrived), []).append((sample, said))
        for n, decided in never.items():
            nobody = f"{_decided(decided)}; no entry shows that a laboratory received {_it(decided)}."
            yield Hit(form.number, nobody, entries=(n,))
        for (n, at), decided in early.items():
            told_on = clock_at(at.instant, decided[0][1].of(Decision).at)
            said_so = f"{_decided(decided)}, before {_they(decided)} {_was(decided)} received on {told_on}."
            yield Hit(form.number, said_so, entries=(n,), by=("clock_warn_s",))


def _by_others(case: Case, form: Form) -> Iterator[Hit]:
    """A decision, a disposal or a sending on that was not for its signer to make, by entry."""
    found: dict[int, tuple[Recorded, list[str]]] = {}
    for odd in form.oddities:
        if odd.code == "decided-elsewhere" and odd.sample:
            found.setdefault(odd.entry.n, (odd.entry, []))[1].append(odd.sample)
    for n, (entry, numbers) in found.items():
        assert isinstance(
            entry.body, Decision | Disposed | Forwarded | LabNumbered | Stored | Voided | Withdrawn
        )
        at = entry.at if isinstance(entry.body, Voided) else entry.body.at
        did = _DID.get(entry.act, "disposed of")
        known, lab = form.samples.get(numbers[0]), form.opened.of(Opened).parties.lab
        decides = form.bound_for(known) if known else lab
        why = f"{decides} decides"
        is_too_early = decides == entry.org and isinstance(entry.body, Disposed | Voided)
        if is_too_early:
            why = f"{'it was' if len(numbers) == 1 else 'they were'} not with {entry.org}"
        elif decides == entry.org:  # its sampling firm, to which it was sent on: that sends nothing on
            why = f"{lab} decides"
        said = (
            f"{case.person(entry.org, entry.kid)} of {entry.org} signed that {samples(numbers)}"
            f" {'was' if len(numbers) == 1 else 'were'} {did} on"
            f" {clock(at)}; {why}. This entry counts for nothing."
        )
        yield Hit(form.number, said, entries=(n,), remedy=None if is_too_early else _NOT_THEIRS)


def _about_to_decide(case: Case, deciding: Draft[Decision]) -> Iterator[Hit]:
    """What is about to be decided on, and is not for its signer, or no laboratory has, or had by then."""
    does = _DECIDES[deciding.act]
    for form in case.forms.values():
        apart = timedelta(seconds=case.policy(form).clock_warn_s)
        named = [form.samples[number] for number in deciding.body.samples if number in form.samples]
        others = [each for each in named if not form.answers_for(deciding.org, each)]
        if others:
            said = (
                f"{start(samples([each.number for each in others]))} cannot be {does} by {deciding.org}:"
                f" {form.bound_for(others[0])} decides."
            )
            yield Hit(form.number, said, "block", remedy=_NOT_THEIRS, is_proposed=True)
        arrivals = {sample.number: form.arrival_of(sample) for sample in named}
        never = [s.number for s in named if arrivals[s.number] is None and _needs_it(s, deciding.act)]
        if never:
            said = f"{start(samples(never))} cannot be {does} yet: no entry shows that a laboratory received"
            yield Hit(form.number, f"{said} {_it(never)}.", "block", remedy=_RECEIVE, is_proposed=True)
        by_arrival: dict[Moment, list[str]] = {}
        for number, at in arrivals.items():
            if at and at.instant - deciding.body.at.instant > apart:
                by_arrival.setdefault(at, []).append(number)
        for at, early in by_arrival.items():
            then = f"{clock(deciding.body.at)}: received on {clock_at(at.instant, deciding.body.at)}"
            said = f"{start(samples(early))} cannot have been {does} on {then}."
            yield Hit(form.number, said, "block", remedy=_LATER, is_proposed=True)


_DECIDES: Final = {ACCEPTED: "accepted", ON_HOLD: "put on hold", REJECTED: "rejected"}
_DID: Final = {
    **_DECIDES,
    name_of(Forwarded): "sent to another laboratory",
    name_of(LabNumbered): "given laboratory numbers",
    name_of(Stored): "put into a store",
    name_of(Voided): "voided",
    name_of(Withdrawn): "taken out of a store",
}
_RECEIVE: Final = advice(
    "Record the receipt first: what was read on the seal, what was counted, how each cassette was.",
    do("received", "envelope", dock=True),
)
_NOT_THEIRS: Final = for_all("Ask the laboratory: its decision counts, whatever others sign.")
_LATER: Final = advice("Give the time at which it was decided. A wrong time of receipt is corrected first.")


def _needs_it(sample: Sample, act: str) -> bool:
    """Whether the laboratory must have had it; what was not in its envelope may be rejected or held."""
    return act == ACCEPTED or (act == ON_HOLD and sample.missed is None)


def _decided(decided: Sequence[tuple[Sample, Said]]) -> str:
    said = decided[0][1]
    what = _DECIDES[said.entry.act]
    names = start(samples([sample.number for sample, _ in decided]))
    return f"{names} {_was(decided)} {what} on {clock(said.of(Decision).at)}"


def _was(decided: Sequence[object]) -> str:
    return "was" if len(decided) == 1 else "were"


def _they(decided: Sequence[object]) -> str:
    return "it" if len(decided) == 1 else "they"


def _it(decided: Sequence[object]) -> str:
    return "it" if len(decided) == 1 else "them"


def _about(case: Case, envelope: str) -> set[str]:
    """What a finding about this envelope or anything in it may name."""
    found = {envelope}
    for form in case.forms.values():
        known = form.envelopes.get(envelope)
        if known and known.arrivals:
            sealing = known.arrivals[0].sealing
            found |= set(sealing.body.samples) if sealing else set()
            found |= {item.sample for arrival in known.arrivals for item in arrival.said.of(Received).items}
    return found


def _calls(case: Case, envelope: str) -> Iterator[Moment]:
    """When the sender was called about anything in the envelope, whichever form says it."""
    about = _about(case, envelope)
    for form in case.forms.values():
        named = [sample for sample in form.samples.values() if sample.number in about]
        if named:
            yield from qualified.calls(form, *named)


def _accepted(sample: Sample) -> bool:
    return sample.decision is not None and sample.decision.entry.act == ACCEPTED


def _numbered(sample: Sample) -> tuple[str, str, int] | None:
    """Who gave a sample the laboratory number it bears now, the number, and the entry."""
    if not sample.numbered:
        return None
    said, number = sample.numbered[-1]
    return said.entry.org, number, said.entry.n


_THE_FIRM_S: Final[tuple[Role, ...]] = ("inspector", "clerk", "quality")
_THE_LABORATORY_S: Final[tuple[Role, ...]] = ("custodian", "analyst", "quality")


def _whose(form: Form, org: str) -> tuple[Role, ...]:
    """Who issues the next version of what an organization issued; both where it is on both sides, or none."""
    is_firm, is_laboratory = org == form.opened.of(Opened).parties.firm, org in form.laboratories
    if is_firm == is_laboratory:
        return ()
    return _THE_FIRM_S if is_firm else _THE_LABORATORY_S


def _two(form: Form, org: str) -> Remedy:
    told = (
        "Find out which of them is meant, issue it under the next version, and sign that. Take the others"
        " back."
    )
    return by(_whose(form, org), told, do("copied", "form", of=..., version=...))


def _again(whose: tuple[Role, ...] = ()) -> Remedy:
    return by(
        whose,
        "Print it again, issue it under the next version, and sign that. Report nothing from the old one"
        " until then.",
        do("print_record", "form"),
        do("copied", "form", of=..., version=..., reason="correction"),
    )


_REPLACED: Final = advice("Check which version you hold, and mark the older ones void or destroy them.")


@rule(
    "RC-18",
    "Issued copy is out of date",
    "block",
    "custody",
    "amendments can be traced: ISO/IEC 17025:2017 7.5, by secondary summary; ISO/IEC 17025:2017 7.8.8, from"
    " memory",
    _again(),
)
def which_copy_counts(case: Case) -> Iterator[Hit]:
    """Of every organization and each thing given out, the highest version counts.

    Grave when something was corrected or voided after the entries it tells of, or came to light about its
    samples, and when two different copies bear its number. That it replaced older ones is noted.
    """
    for form in case.forms.values():
        for (org, what), said in _given_out(form).items():
            highest = max(each.of(Copied).version for each in said)
            counting = [each for each in said if each.of(Copied).version == highest]
            name = f"version {highest} of {what} of {org}"
            entries = tuple(each.entry.n for each in counting)
            if _differ([each.of(Copied) for each in counting]):
                told = (
                    f"Two different copies were issued as {name} (entries"
                    f" {listed([str(n) for n in entries])}): no entry shows which counts."
                )
                yield Hit(form.number, told, entries=entries, remedy=_two(form, org))
                continue
            reads = min(counting[0].of(Copied).entries, entries[0] - 1)
            is_blind = counting[0].of(Copied).of == "blind"
            if missed := [*_changes(form, reads, is_blind=is_blind), *_later(case, form, counting[0], reads)]:
                told = (
                    f"{start(name)} (entry {entries[0]}) covers entries up to {reads}; after them came"
                    f" {listed(missed)}."
                )
                yield Hit(form.number, told, entries=entries, remedy=_again(_whose(form, org)))
            if older := [each for each in said if each not in counting]:
                told = (
                    f"{start(name)} (entry {entries[0]}) counts. It replaced"
                    f" {listed([_version(each) for each in older])}."
                )
                yield Hit(form.number, told, "note", entries, remedy=_REPLACED)


def _differ(bodies: Sequence[Copied]) -> bool:
    files = {body.file for body in bodies}
    if None not in files:
        return len(files) > 1  # one and the same file, whatever was entered since
    return len(files - {None}) > 1 or len({body.entries for body in bodies}) > 1


_WHAT: Final = {"record": "the custody record", "result": "the result", "blind": "the blind copy"}
_ON_BLIND: Final = frozenset({"serial", "lot", "items", "dock", "numbers", "lab_numbers", "analysis"})
"""What stands on a blind copy, by the members that say it. The serial stood on those given out before."""


def _given_out(form: Form) -> dict[tuple[str, str], Sequence[Said]]:
    """What was given out, by organization and by what it is in words."""
    found: dict[tuple[str, str], list[Said]] = {}
    for said in form.copies:
        body = said.of(Copied)
        what = _WHAT[body.of]
        name = f"{what} {body.reference}" if body.reference else what
        found.setdefault((said.entry.org, name), []).append(said)
    return dict(found)


def _changes(form: Form, after: int, *, is_blind: bool) -> Iterator[str]:
    """What changed the meaning of earlier entries after this one, as far as it stands on the copy.

    The version of a copy says nothing about samples.
    """
    for made in form.corrections:
        if (
            made.entry.n > after
            and not made.why_not
            and made.target
            and not isinstance(made.target.body, Copied)
            and (not is_blind or made.body.field in _ON_BLIND)
        ):
            yield f"the correction of {made.body.field} (entry {made.entry.n})"
    for entry in form.ordered:
        if entry.n > after and isinstance(entry.body, Voided):
            yield f"the void (entry {entry.n})"


def _later(case: Case, form: Form, copy: Said, reads: int) -> Iterator[str]:
    """What came to light after it, by the ledger's time: recall and release of a lot, a cassette found after
    the first opening, and after a result another decision against a sample.
    """
    lots: dict[str, list[str]] = {}
    for sample in form.live:
        if sample.lot:
            lots.setdefault(sample.lot, []).append(sample.number)
        if sample.missed and sample.found and sample.found.entry.n > reads:
            yield f"the finding of sample {grouped(sample.number)} (entry {sample.found.entry.n})"
        decided = (said.entry for said in sample.decisions if said.entry.n > reads)
        against = next((entry for entry in decided if entry.act in (ON_HOLD, REJECTED)), None)
        if against and copy.of(Copied).of == "result":
            what = "hold" if against.act == ON_HOLD else "rejection"
            yield f"the {what} of sample {grouped(sample.number)} (entry {against.n})"
    for number, named in lots.items():
        lot = case.lots.get(number)
        for recall in lot.recalls if lot else ():
            for what, when in (("recall", recall.since), ("release", recall.until)):
                if when and when > copy.entry.rec:
                    of_which = f"of which {'is' if len(named) == 1 else 'are'} {printed(named)}"
                    at = clock_at(when, copy.entry.at)
                    yield f"the {what} of lot {grouped(number)} on {at}, {of_which}"


def _version(said: Said) -> str:
    return f"version {said.of(Copied).version} (entry {said.entry.n})"
