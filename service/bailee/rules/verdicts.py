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
from bailee.rules.wording import listed, printed, samples, start

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
    "own log": "This is what the ledger's own database holds",
    "complete": "No record was found altered, and none missing up to the checkpoint held outside",
    "intact": "No record was found altered",
    "not judged": "The records are not under the keys that were brought",
    "broken": "The records do not hold together",
}
_WORDS: Final[dict[Area, tuple[str, str]]] = {
    "custody": ("custody", "Every link that custody needs is stated"),
    "media": ("media and sampling", "No fault of media or sampling was seen"),
    "comparison": (
        "the outdoor comparison",
        "An outdoor control is there for every indoor sample, and no fault of it was seen",
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
    nothing = "" if any(list(form.live) for form in case.forms.values()) else "No sample was collected"
    return (
        _records(case, of["records"], records_state),
        _judged("custody", of["custody"], nothing, _custody_unchecked(case)),
        _judged("media", of["media"], nothing, _media_unchecked(case)),
        _judged("comparison", of["comparison"], _no_comparison(case), _comparison_unchecked()),
    )


def _records(case: Case, found: tuple[Finding, ...], state: RecordsState) -> Verdict:
    count = sum(len(form.entries) for form in case.forms.values())
    about = (
        f"{count} record{'s' if count != 1 else ''} of form{'s' if len(case.forms) != 1 else ''}"
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
            f"{none}: there is nothing to say about {name}.{_tally(found)}",
            found,
            tuple(unchecked),
        )
    broken = [each for each in grave if area == "custody" and each.rule in BREAKS]
    if broken:
        said = f"Custody is not shown throughout: {_of_rules(broken)}."
        return Verdict(area, "broken", said + _tally(found), found, tuple(unchecked))
    if grave:
        return Verdict(
            area,
            "flagged",
            start(f"{name} must be looked at: {_of_rules(grave)}.{_tally(found)}"),
            found,
            tuple(unchecked),
        )
    if found:
        return Verdict(
            area, "noted", f"Nothing grave was found about {name}.{_tally(found)}", found, tuple(unchecked)
        )
    return Verdict(area, "no fault found", f"{clean}.", found, tuple(unchecked))


def _no_comparison(case: Case) -> str:
    """Why there is no comparison; empty when a live outdoor control is seen wherever indoor samples are."""
    indoor = [form for form in case.forms.values() if of_kind(form, "indoor")]
    if not indoor:
        return "No indoor sample is there to compare"
    lacking = [form.number for form in indoor if not of_kind(form, "outdoor")]
    return f"There is no outdoor control on form {printed(sorted(lacking))}" if lacking else ""


def _records_unchecked(case: Case, state: RecordsState) -> Iterator[str]:
    if state == "own log":
        yield "Whether the log itself was rewritten: only a checkpoint held by somebody else can show that."
    if state in ("intact", "not judged"):
        yield "Whether the newest records are missing: no checkpoint held outside was compared."
    if case.elsewhere is None:
        yield "Whether statements of a device are missing on other chains of the ledger."
    signing = {entry.org for form in case.forms.values() for entry in form.entries}
    for org in sorted(signing - set(case.organizations)):
        yield f"Whose keys signed for {org}, in which role and until when: its chain is not here."
    yield "Whether what people typed is true: a signature shows who said it."


def _custody_unchecked(case: Case) -> Iterator[str]:
    if case.elsewhere is None:
        yield "Whether a sample or seal number was used elsewhere in the ledger."
    unbound = [
        sample.number for _, sample in case.samples() if sample.collected and not sample.collected.serial
    ]
    if unbound:
        yield (
            f"Whether {samples(unbound)} {'is' if len(unbound) == 1 else 'are'} on the cassette collected: no"
            " maker's serial was bound, so identity rests on the label only."
        )
    absent = {
        number
        for _, envelope in case.envelopes()
        for sealing in envelope.sealings
        for number in sealing.body.forms
    }
    absent -= set(case.forms)
    if absent:
        yield f"The count of a whole envelope: form {printed(sorted(absent))} shares it and is not here."
    if any(sample.collected and sample.collected.serial for _, sample in case.samples()):
        here = (
            "on another visit too: only the forms here were compared."
            if case.elsewhere is None
            else "by another organization too: each one's cassettes are compared among themselves."
        )
        yield f"Whether a serial was recorded {here}"
    yield from _uncounted(case)
    yield "Whether labels were swapped between cassettes by hand: no signature can see that."
    yield "Whether what was said to be locked, in view or restricted really was."


def _uncounted(case: Case) -> Iterator[str]:
    """Hand-overs whose signer says that nobody counted, and packages that nobody looked at."""
    signed = [entry for form in case.forms.values() for entry in form.entries]
    handed = [each.body for each in signed if isinstance(each.body, Relinquished | Received | Forwarded)]
    uncounted = sum(body.count is None for body in handed)
    if uncounted:
        many = "1 statement was" if uncounted == 1 else f"{uncounted} statements were"
        yield f"The count at hand-overs: {many} signed without counting."
    docks: list[Dock | TakenIn] = [each.dock for each in handed if isinstance(each, Received) and each.dock]
    docks += [each.body for each in signed if isinstance(each.body, TakenIn)]
    unseen = sorted({dock.envelope for dock in docks if "not_looked_at" in dock.package})
    if unseen:
        yield f"The package of envelope {printed(unseen)} on arrival: nobody looked at it."


def _media_unchecked(case: Case) -> Iterator[str]:
    unseen = [sample.number for _, sample in case.samples() if "not_looked_at" in sample.condition]
    if unseen:
        yield f"The condition of {samples(unseen)} on receipt: nobody looked."
    unknown = {s.collected.lot for _, s in case.samples() if s.collected and not case.lot_of(s)}
    if unknown:
        yield f"Expiry, recall and issue of lot {printed(sorted(unknown))}: its chain is not here."
    yield "Whether flow, time and place were read as typed."
    yield from _unlisted(case)
    yield "How long spore traps keep: no source gives a holding time, and the hours used are the firm's own."


def _unlisted(case: Case) -> Iterator[str]:
    """What cannot be looked up because a sampling organization keeps no list of it."""
    sampling = {claim.entry.org for _, sample in case.samples() for claim in sample.claims}
    for name in sorted(sampling & set(case.organizations)):
        organization = case.organizations[name]
        if not organization.training:
            yield f"Whether the samplers were trained: {name} keeps no list of trained people."
        if not any(kind == "meter" for kind, _ in organization.equipment):
            yield f"Whether the flow meters were in certificate: {name} lists none."
        if organization.licensing is None:
            yield f"Where a license to sample is needed: {name} keeps no table of it."


def _comparison_unchecked() -> Iterator[str]:
    yield "Whether the outdoor control was taken where and when it is said to have been."
    yield "What the counts mean: nothing here is a result."


def _tally(found: Sequence[Finding]) -> str:
    if not found:
        return ""
    words = {"block": "stop", "flag": "flag", "warn": "warning", "note": "note"}
    counted = [(sum(1 for each in found if each.severity == name), word) for name, word in words.items()]
    return f" {listed([f'{n} {word}' + ('s' if n > 1 else '') for n, word in counted if n])}."


def _of_rules(found: Sequence[Finding]) -> str:
    return listed(sorted({each.rule for each in found}))
