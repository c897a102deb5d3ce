"""Four verdicts, never one: records, custody, media and sampling, comparison. Each says what was not checked.

Nothing is ever good because no fault was seen. Custody and media are judged only when a sample was collected;
comparison only when a live outdoor control is seen on every form that has indoor samples.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final, Literal

from bailee.domain.acts.form import Dock, Forwarded, Received, Relinquished, TakenIn
from bailee.domain.pairing import of_kind
from bailee.frozen import frozen
from bailee.rules.case import Case
from bailee.rules.registry import Area, Finding
from bailee.rules.unstated import air_unstated, labels_unstated, unstated
from bailee.rules.wording import counted, listed, printed, samples, start

RecordsState = Literal["own log", "complete", "intact", "not judged", "broken"]
"""What the caller knows of the log itself.

own log    read by the service from its own database
complete   no entry altered, and none missing up to a checkpoint held outside
intact     no entry altered; whether later ones are missing cannot be told
not judged no entry altered, and under other keys than those that the reader knows: it may be anybody's
broken     an entry, a proof or a signature does not hold
"""

State = Literal[
    "own log", "complete", "intact", "not judged", "broken", "flagged", "noted", "no fault found", "none"
]

BREAKS: Final = frozenset({"CU-01", "CU-03", "CU-05", "CU-06", "RC-19"})
"""Rules that find a link of custody missing, and not only doubtful."""

_RECORDS: Final[dict[RecordsState, str]] = {
    "own log": "Read from this ledger",
    "complete": "No entry found altered or missing up to the outside checkpoint",
    "intact": "No entry found altered",
    "not judged": "The entries are not under the keys that were brought",
    "broken": "This file does not match what was signed",
}
OTHER_FORMS: Final = "Other forms: only the forms here were compared for sample numbers, serials and seals."
"""An auditor's report has it once, among what the file alone cannot show."""
_WORDS: Final[dict[Area, tuple[str, str]]] = {
    "custody": ("custody", "No break in custody found"),
    "media": ("media and sampling", "No fault found in lots, flow, time and locations as entered"),
    "comparison": (
        "the outdoor comparison",
        "Each indoor sample read here has an outdoor control; no fault found in it",
    ),
}


@frozen
class Verdict:
    """One answer: its state, one sentence for a person, the findings it rests on, and what
    was not checked.
    """

    area: Area
    state: State
    sentence: str
    findings: tuple[Finding, ...]
    not_checked: tuple[str, ...]


def verdicts(case: Case, findings: Sequence[Finding], *, records_state: RecordsState) -> tuple[Verdict, ...]:
    """Records, custody, media and comparison, in this order.

    `findings` are those of `registry.evaluate(case)`.
    """
    of: dict[Area, tuple[Finding, ...]] = {
        # SE-01 repeats the others
        area: tuple(found for found in findings if found.area == area and found.rule != "SE-01")
        for area in ("records", "custody", "media", "comparison")
    }
    nothing = _nothing_live(case)
    return (
        _records(case, of["records"], records_state),
        _judged("custody", of["custody"], nothing, _custody_unchecked(case)),
        _judged("media", of["media"], nothing, _media_unchecked(case)),
        _judged("comparison", of["comparison"], _no_comparison(case), _comparison_unchecked(case)),
    )


def _nothing_live(case: Case) -> str:
    """Why there is no sample to judge; empty where there is one."""
    if any(list(form.live) for form in case.forms.values()):
        return ""
    if any(sample.claims for form in case.forms.values() for sample in form.samples.values()):
        return "Every sample collected here is void"
    return "No collection entry is on record here"


def _records(case: Case, found: tuple[Finding, ...], state: RecordsState) -> Verdict:
    count = sum(len(form.entries) for form in case.forms.values())
    about = (
        f"{counted(count, 'entry', 'entries')} of form{'s' if len(case.forms) != 1 else ''}"
        f" {printed(sorted(case.forms))}"
    )
    sentence = f"{_RECORDS[state]} ({about}).{_tally(found)}"
    return Verdict("records", state, sentence, found, tuple(_records_unchecked(case, state)))


def _judged(area: Area, found: tuple[Finding, ...], none: str, unchecked: Iterator[str]) -> Verdict:
    name, clean = _WORDS[area]
    grave = [each for each in found if each.severity in ("block", "flag")]
    if none:
        return Verdict(
            area,
            "none",
            f"{none}.{_tally(found)}",
            found,
            tuple(unchecked),
        )
    broken = [each for each in grave if area == "custody" and each.rule in BREAKS]
    if broken:
        said = f"Found by {_of_rules(broken)}."
        return Verdict(area, "broken", said + _tally(found), found, tuple(unchecked))
    if grave:
        return Verdict(
            area,
            "flagged",
            f"Found by {_of_rules(grave)}.{_tally(found)}",
            found,
            tuple(unchecked),
        )
    if found:
        return Verdict(
            area, "noted", f"No open stop or flag about {name}.{_tally(found)}", found, tuple(unchecked)
        )
    return Verdict(area, "no fault found", f"{clean}.", found, tuple(unchecked))


def _no_comparison(case: Case) -> str:
    """Why there is no comparison; empty when a live outdoor control is seen wherever indoor samples are."""
    indoor = [form for form in case.forms.values() if of_kind(form, "indoor")]
    if not indoor:
        return "No indoor sample is on record here"
    lacking = [form.number for form in indoor if not of_kind(form, "outdoor")]
    return f"No outdoor control is on record here for form {printed(sorted(lacking))}" if lacking else ""


def _records_unchecked(case: Case, state: RecordsState) -> Iterator[str]:
    if state == "own log":
        yield "Rewriting of the whole log: needs a checkpoint held by another organization."
    if state in ("intact", "not judged"):
        yield "Newest entries: no outside checkpoint was compared."
    if case.elsewhere is None:
        yield "Entries of a device on other chains of the ledger: not in this file."
    signing = {entry.org for form in case.forms.values() for entry in form.entries}
    for org in sorted(signing - set(case.organizations)):
        yield f"Keys of {org}: its entries are not in this file."
    yield "Truth of what was entered: a signature shows who signed."


def _custody_unchecked(case: Case) -> Iterator[str]:
    if case.elsewhere is None:
        yield OTHER_FORMS
    elif any(sample.collected and sample.collected.serial for _, sample in case.samples()):
        yield "Serials used twice: each organization's cassettes are compared among themselves only."
    unbound = [
        sample.number for _, sample in case.samples() if sample.collected and not sample.collected.serial
    ]
    if unbound:
        yield (
            f"{start(samples(unbound))}: no serial on record; only the label (and photo, if any) identifies"
            f" {'it' if len(unbound) == 1 else 'them'}."
        )
    absent = {
        number
        for _, envelope in case.envelopes()
        for sealing in envelope.sealings
        for number in sealing.body.forms
    }
    absent -= set(case.forms)
    if absent:
        yield f"Count of a whole envelope: form {printed(sorted(absent))} shares it and is not here."
    yield from unstated(case, "custody")
    yield from _uncounted(case)
    beside = ", or printed twice or on a cover and not entered" if labels_unstated(case) else ""
    yield f"Labels exchanged by hand{beside}: no signature shows it."
    yield "Whether a vehicle or room was really locked, in view or restricted."


def _uncounted(case: Case) -> Iterator[str]:
    """Hand-overs whose signer says that nobody counted, and packages that nobody looked at."""
    signed = [entry for form in case.forms.values() for entry in form.entries]
    handed = [each.body for each in signed if isinstance(each.body, Relinquished | Received | Forwarded)]
    uncounted = sum(body.count is None for body in handed)
    if uncounted:
        many = "1 entry was" if uncounted == 1 else f"{uncounted} entries were"
        yield f"Count at transfers: {many} signed without counting."
    docks: list[Dock | TakenIn] = [each.dock for each in handed if isinstance(each, Received) and each.dock]
    docks += [each.body for each in signed if isinstance(each.body, TakenIn)]
    unseen = sorted({dock.envelope for dock in docks if "not_looked_at" in dock.package})
    if unseen:
        yield f"Package of envelope {printed(unseen)} on arrival: entered as not looked at."


def _media_unchecked(case: Case) -> Iterator[str]:
    unseen = [sample.number for _, sample in case.samples() if "not_looked_at" in sample.condition]
    if unseen:
        yield f"Condition of {samples(unseen)} on receipt: entered as not looked at."
    unknown = {s.lot for _, s in case.samples() if s.lot and not case.lot_of(s)}
    if unknown:
        yield (
            f"Lot {printed(sorted(unknown))}: its entries are not here; expiration, recall and issue were not"
            " checked."
        )
    yield from unstated(case, "media")
    air = "; air temperature or pressure at a flow check is not stated" if air_unstated(case) else ""
    yield f"Flow, time and place: used as entered{air}."
    yield from _unlisted(case)
    yield (
        "Holding time: we found no published one for spore traps; the limits in force are those of the"
        " policies."
    )


def _unlisted(case: Case) -> Iterator[str]:
    """What cannot be looked up because a sampling organization keeps no list of it."""
    sampling = {claim.entry.org for _, sample in case.samples() for claim in sample.claims}
    for name in sorted(sampling & set(case.organizations)):
        organization = case.organizations[name]
        lacking = [
            what
            for what, has in (
                ("training", bool(organization.training)),
                ("flow meters", any(kind == "meter" for kind, _ in organization.equipment)),
                ("where a license is needed", organization.licensing is not None),
            )
            if not has
        ]
        if lacking:
            yield f"{start(listed(lacking))}: {name} has no such list in the ledger."


def _comparison_unchecked(case: Case) -> Iterator[str]:
    yield from unstated(case, "comparison")
    yield "Outdoor control: place and time as entered."
    yield "Results: this record contains none."


def _tally(found: Sequence[Finding]) -> str:
    if not found:
        return ""
    words = {"block": "stop", "flag": "flag", "warn": "warning", "note": "note"}
    counted = [(sum(1 for each in found if each.severity == name), word) for name, word in words.items()]
    return f" {listed([f'{n} {word}' + ('s' if n > 1 else '') for n, word in counted if n])}."


def _of_rules(found: Sequence[Finding]) -> str:
    return listed(sorted({each.rule for each in found}))
