"""CU-15, CU-22: what was signed long after it was done, and what was entered from a form filled in by pen.

A second person who watched signs with their own key: of a late entry it is said, an entry from paper wants
it.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from bailee.domain.acts.form import OnPaper, Received, Relinquished, Witnessed, on_paper
from bailee.domain.acts.table import done_at
from bailee.domain.custody import Form
from bailee.domain.moments import Moment, duration_words, hours
from bailee.domain.statements import Recorded
from bailee.rules.case import Case
from bailee.rules.checks.clocks import by_device
from bailee.rules.registry import Hit, Severity, rule
from bailee.rules.remedies import advice, do
from bailee.rules.wording import clock, clock_at, counted, listed, start


@rule(
    "CU-15", "Late entry", "note", "custody", "ALCOA: contemporaneous, by summary",
    advice(
        "Nothing to fix: it is printed on the custody record. A person who watched may sign as witness. "
        "Correct a time that is wrong.",
        do("witnessed", "form", statements=...),
        do("corrected", "form", of=..., field=..., new=..., reason="clock"),
    ),
)  # fmt: skip
def signed_in_time(case: Case) -> Iterator[Hit]:
    """Signed strictly more than so many minutes after the act; what was written by pen then, by itself.

    A late upload of a statement signed in time is not late.
    """
    for form, made in by_device(case):
        policy = case.policy(form)
        late = [
            (entry, done, entry.at.instant - done.instant) for entry in made if (done := done_at(entry.body))
        ]
        least = min(timedelta(minutes=policy.late_note_min), timedelta(hours=float(policy.late_warn_h)))
        late = [each for each in late if each[2] > least]
        for is_pen in (True, False):
            if told := [each for each in late if bool(on_paper(each[0].body)) == is_pen]:
                entry, done, length = max(told, key=lambda each: each[2])
                severity: Severity = "warn" if hours(length) > policy.late_warn_h else "note"
                said = f"{_signed_late(case, entry, done, length)} {_longest_of(len(told))}".strip()
                said += "".join(
                    f" {case.person(by.org, by.kid)} signed as witness (entry {by.n})."
                    for by in _witnesses(case, form, entry)
                )
                limit = "late_warn_h" if severity == "warn" else "late_note_min"
                yield Hit(form.number, said, severity, tuple(each[0].n for each in told), by=(limit,))


@rule(
    "CU-22", "Entered from paper, and no second person signed", "warn", "custody",
    "49 CFR 40.205, by analogy: what was written is completed under signature; two people, common practice",
    advice(
        "Another person who was there compares the entry with the sheet and signs as witness, with their own"
        " key. Keep the sheet.",
        do("witnessed", "form", statements=...),
    ),
)  # fmt: skip
def watched_on_paper(case: Case) -> Iterator[Hit]:
    """Every entry signed as from paper that names samples, whatever was corrected; who entered it is no
    second person, nor is anybody of another organization.

    Of a transfer the other side is (CU-01).
    """
    for form in case.forms.values():
        alone: dict[str, list[tuple[Recorded, OnPaper]]] = {}
        for entry in form.ordered:
            paper = on_paper(entry.body) or on_paper(form.as_signed(entry).body)
            is_transfer = isinstance(entry.body, Relinquished | Received)
            seconds = (each for each in _witnesses(case, form, entry) if each.org == entry.org)
            if paper and entry.named and not is_transfer and not any(seconds):
                alone.setdefault(paper.sheet, []).append((entry, paper))
        for sheet, found in alone.items():
            who = listed(list(dict.fromkeys(case.person(each.org, each.kid) for each, _ in found)))
            lines = list(dict.fromkeys(paper.line for _, paper in found))
            said = (
                f"{who} entered {counted(len(lines), 'line')} of sheet {sheet} ({listed(lines)}) from paper;"
                " no second person signed as witness."
            )
            yield Hit(form.number, said, entries=tuple(each.n for each, _ in found))


def _signed_late(case: Case, entry: Recorded, done: Moment, length: timedelta) -> str:
    who, paper, act = case.person(entry.org, entry.kid), on_paper(entry.body), entry.act.replace("_", " ")
    late, entered = duration_words(length), clock(entry.at)
    if paper:
        return (
            f"{start(act)} on {clock(done)}: written by pen at {clock(paper.written_at)} (sheet"
            f" {paper.sheet}, line {paper.line}), entered at {entered} by {who}, {late} later."
        )
    return f"{who} signed on {entered} what was {act} on {clock_at(done.instant, entry.at)}, {late} before."


def _longest_of(many: int) -> str:
    return f"This is the longest of {many} late entries." if many > 1 else ""


def _witnesses(case: Case, form: Form, entry: Recorded) -> Iterator[Recorded]:
    """Who else says to have watched what this entry says; its own signer is no witness, nor who read other
    numbers.
    """
    watched = case.once(_watched)[form.number].get(entry.digest, ())
    return (
        each
        for each in watched
        if not form.same(each.kid, entry.kid)
        and isinstance(each.body, Witnessed)
        and each.body.saw(entry.digest, entry.named)
    )


def _watched(case: Case) -> dict[str, dict[str, list[Recorded]]]:
    """By form and statement: who says to have watched."""
    found: dict[str, dict[str, list[Recorded]]] = {}
    for form in case.forms.values():
        told = found.setdefault(form.number, {})
        for each in form.ordered:
            for digest in set(each.body.statements) if isinstance(each.body, Witnessed) else ():
                told.setdefault(digest, []).append(each)
    return found
