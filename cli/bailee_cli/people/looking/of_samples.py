"""Samples, as a table and one by one: what was collected, who held it, what was decided."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from bailee.domain.acts.form import Cavity
from bailee.presentation import cavity_words, store_words, surface_words, words
from bailee.presentation.words import Heading
from bailee_cli.people.looking.of_lots import lot
from bailee_cli.terminal import show


def samples(told: Sequence[Mapping[str, Any]], zone: str | None = None) -> None:
    """The samples of a form as a table, their times on the clocks of a zone."""
    columns = [
        Heading.SAMPLE,
        Heading.KIND,
        Heading.WHERE,
        Heading.STARTED,
        Heading.VOLUME,
        Heading.OUTDOOR,
        Heading.STATUS,
        Heading.CONDITION,
        Heading.LAB_NUMBER,
        Heading.HOLDER,
    ]
    rows = [
        (
            s["sample"],
            words.KINDS.get(s["kind"], "") or surface_words.MEDIA.get(s["medium"], ""),
            ", ".join(filter(None, (show.words(s["room"]), s["point"], s["place"], _taken_from(s)))),
            show.clock(s["started"], zone),
            _drawn(s),
            f"{show.name(s['outdoor'])}, {words.apart(s['minutes_apart'])}" if s["outdoor"] else "",
            _status(s),
            words.condition(s["status"], s["condition"]),
            s["lab_number"],
            s["holder"] if s["status"] != "disposed" else "",
        )
        for s in told
    ]
    show.table(_timed("Samples", zone), [each.lower() for each in columns], rows)


def _taken_from(s: Mapping[str, Any]) -> str:
    if s["cavity"]:
        return ", ".join(cavity_words.lines(Cavity.read(s["cavity"])))
    return surface_words.of_what(s["material"], s["surface"]) if s["medium"] else ""


def _drawn(s: Mapping[str, Any]) -> str:
    """Air, or in its place how much of a surface."""
    if s["medium"]:
        return surface_words.amount(s["area_cm2"], s["mass_g"])
    return words.drawn(s["kind"], s["volume_l"], None) if s["kind"] else ""


def _status(sample: Mapping[str, Any]) -> str:
    newest = sample["decisions"][-1] if sample["decisions"] else {}
    qualified = newest.get("decision") == "accepted" and newest["qualified"]
    return words.status(sample["status"], sample["void"], qualified=qualified)


def _timed(title: str, zone: str | None) -> str:
    return f"{title} (times in {zone})" if zone else title


def one_sample(told: Mapping[str, Any], zone: str | None) -> None:
    """All of one sample, its times on the clocks of a zone."""
    state = told["state"]
    if told["lot"]:
        lot(told["lot"], surface=bool(state and state["medium"]))
    if state is None:
        show.say(f"Sample {show.name(told['sample'])}. {words.ONLY_ISSUED}")
        return
    show.say(f"Sample {show.name(told['sample'])} on form {show.name(told['form'])}")
    samples([state], zone)
    rows = [
        (
            link["holder"],
            link["organization"],
            show.clock(link["since"], zone),
            show.clock(link["until"], zone),
            f"{link['gap_min']} min" if float(link["gap_min"] or 0) else "",
            _kept(link, zone),
        )
        for link in state["links"]
    ]
    columns = [Heading.HOLDER, "organization", "from", "until", Heading.GAP, Heading.SECURED]
    show.table(_timed(Heading.CUSTODY, zone), [each.lower() for each in columns], rows)
    if state["parent"] or state["child"]:
        was = state["parent"] and f"was {show.name(state['parent'])} before it was forwarded"
        now = state["child"] and f"was forwarded as {show.name(state['child'])}"
        show.say(f"The same trace {' and '.join(filter(None, (was, now)))}.")
    if state["keep_until"]:
        show.say(f"Kept until {state['keep_until']}.")
    low, high = (state[name] and Decimal(state[name]) for name in ("store_low_c", "store_high_c"))
    if limits := store_words.limits(low, high):
        show.say(f"Its store is kept at {limits}.")
    if state["withdrawn_for"]:
        show.say(f"Withdrawn from a store for {state['withdrawn_for']}.")
    if state["replaces"]:
        show.say(f"It replaces {show.name(state['replaces'])}.")
    _answers(state["decisions"], zone)
    qualified([state])
    show.findings(told["findings"])


def _answers(told: Sequence[Mapping[str, Any]], zone: str | None) -> None:
    """What the laboratory answered: who was called, when, and what they said."""
    rows = [
        (
            words.status(d["decision"]),
            show.clock(d["at"], zone),
            d["by"],
            ", ".join(map(show.words, d["reasons"])),
            show.clock(d["called"], zone),
            d["whom"],
            d["answer"],
            "yes" if d["qualified"] else "",
            show.words(d["resample"]),
        )
        for d in told
    ]
    if rows:
        columns = [
            "decision",
            "at",
            "by",
            "reasons",
            Heading.CALLED.lower(),
            "whom",
            "their reply",
            "qualified",
            "new sample",
        ]
        show.table(_timed("Decisions of the laboratory", zone), columns, rows)


def qualified(told: Sequence[Mapping[str, Any]]) -> None:
    """What results must be reported with; the same words for several samples are said once."""
    alike: dict[str, list[str]] = {}
    for each in told:
        if each["qualification"]:
            alike.setdefault(each["qualification"], []).append(show.name(each["sample"]))
    if alike:
        show.say(words.over_qualifications(alike), style="bold")
    for sentence, numbers_ in alike.items():
        show.say(", ".join(numbers_), "  ")
        show.say(sentence, "    ")


def _kept(link: Mapping[str, Any], zone: str | None) -> str:
    return (
        "; ".join(
            f"{words.way(k['secured'], k['where'])}, from {show.clock(k['since'], zone)}"
            for k in link["kept"]
        )
        or words.NOT_RECORDED
    )
