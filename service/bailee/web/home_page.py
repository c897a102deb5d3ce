"""What stands on the home page, and in which order: what needs this reader first, loud; what is new after.

Nothing is decided here: what is due says the due list, what is wrong say the rules, and who can do what says
the remedy that each of them carries.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from bailee.domain.acts import form as acts
from bailee.domain.acts.form import Opened
from bailee.domain.acts.table import ROWS, name_of
from bailee.domain.custody import Form
from bailee.domain.numbers import LENGTH, kind_of
from bailee.frozen import frozen
from bailee.operations.follow_up import Needs, Wanted
from bailee.operations.queries import Judged
from bailee.operations.visibility import Asker
from bailee.presentation import state_words, words
from bailee.presentation.form_view import FormView, form_view
from bailee.rules.registry import ORDER, RULES, Finding
from bailee.rules.remedies import Remedy
from bailee.rules.wording import counted, day, start

ON_SCREENS: Final = {
    name_of(acts.Held): "secure/{form}",
    name_of(acts.Collected): "visit/{form}",
    name_of(acts.Voided): "void/{form}",
    name_of(acts.Received): "take",
    name_of(acts.Sealed): "pack",
    name_of(acts.Shipped): "ship/{envelope}",
}
"""Of acts that are signed in the app, its screen for them."""

DOCK: Final = "dock/{envelope}"
"""Its screen for an envelope that a laboratory opens."""

_APART: Final = frozenset({"expiring", "expired", "not received", "not taken"})
"""Kinds that have a section of their own; all others are to be done now."""

_WHEN_IT_COMES: Final = "When it comes: read the seal, open it, receive it."
_COUNT_AND_RECEIVE: Final = "Count them, read the numbers, and sign that you received them."
_RECEIVER_SIGNS: Final = "Who has them signs that they received them."


@frozen
class HomeLine:
    """One thing: its number, what is the matter and what to do. `badges` are severities with how many there
    are of each; `act` is the screen of the app that signs it, with the act's name.
    """

    number: str
    says: str
    now: str
    is_loud: bool = False
    is_overdue: bool = False
    is_mine: bool = True
    badges: tuple[tuple[str, str], ...] = ()
    act: tuple[str, str] | None = None


@frozen
class HomeSection:
    """A section of the page."""

    name: str
    title: str
    lines: tuple[HomeLine, ...]


@frozen
class NewForm:
    """A form among the newest: its number, day, parties, and where its samples stand."""

    number: str
    visit: str
    parties: str
    states: str
    count: int


def sections(needs: Needs, asker: Asker) -> list[HomeSection]:
    """The sections that have something: trouble first, then where something is overdue, then where the reader
    can do something, then the rest.
    """
    wanted = list(needs.wanted)
    arriving = [each for each in wanted if each.due.kind == "not received"]
    coming = [each for each in arriving if asker.org == each.due.concerns[-1]]
    leaving = [each for each in arriving if each not in coming]
    stock = [each for each in wanted if each.due.kind in ("expiring", "expired")]
    to_do = [each for each in wanted if each.due.kind not in _APART]
    given = [each for each in wanted if each.due.to and each.due.to[0] == asker.org]
    leaving += [each for each in wanted if each.due.to and each not in given]
    received = [*map(_coming, coming), *(_given(each, asker) for each in given)]
    found = [
        HomeSection("due", "To do now", _in_order(map(_wanted, to_do))),
        HomeSection("receive", "To be received", _in_order(received)),
        HomeSection("way", "On its way", _in_order(map(_wanted, leaving))),
        HomeSection("expiry", "Near expiration, or past it", _in_order(map(_wanted, stock))),
    ]
    trouble = HomeSection("trouble", "Stopped, or in trouble", tuple(_trouble(needs)))
    return [part for part in (trouble, *sorted(found, key=_rank)) if part.lines]


def _rank(part: HomeSection) -> tuple[bool, bool]:
    mine = [line for line in part.lines if line.is_mine]
    return (not any(line.is_overdue for line in mine), not mine)


def _in_order(lines: Iterable[HomeLine]) -> tuple[HomeLine, ...]:
    """What is overdue first, then what the reader can do; otherwise as it came."""
    return tuple(sorted(lines, key=lambda line: (not line.is_overdue, not line.is_mine)))


def _trouble(needs: Needs) -> Iterator[HomeLine]:
    for person in needs.forked:
        says = f"A key of {person} signed statements that contradict each other."
        yield HomeLine("", says, RULES["CU-10"].remedy.words, is_loud=True)
    lines = [
        line for form, judged in needs.judged if (line := _stopped(form_view(form, judged.case), judged))
    ]
    yield from sorted(lines, key=lambda line: not line.is_loud)


def _stopped(form: FormView, judged: Judged) -> HomeLine | None:
    """What stops a form, or is wrong with it; None where nothing does."""
    open_ones = [each for each in judged.findings if not each.excepted and each.rule != "SE-01"]
    grave = sorted(
        (each for each in open_ones if each.severity in ("refuse", "block", "flag")),
        key=lambda each: ORDER.index(each.severity),
    )
    state = state_words.trouble(form)
    if not grave and not state:
        return None
    broken = [each for each in judged.verdicts if (each.area, each.state) == ("custody", "broken")]
    head = [("block", words.verdict(each.area, each.state).upper()) for each in broken]
    says = ". ".join(filter(None, (state, grave[0].sentence if grave else "")))
    return HomeLine(
        form.number,
        says,
        grave[0].remedy if grave else "",
        is_loud=bool(broken or state or any(each.severity == "block" for each in grave)),
        badges=(*head, *_badges(grave)),
    )


def _badges(grave: list[Finding]) -> Iterator[tuple[str, str]]:
    for severity in dict.fromkeys(each.severity for each in grave):
        many = sum(1 for each in grave if each.severity == severity)
        yield severity, words.severity_count(severity, many)


def _wanted(each: Wanted) -> HomeLine:
    told = each.due.told(each.reader)
    return HomeLine(
        each.due.about,
        each.due.sentence,
        told.words,
        is_overdue=each.due.overdue,
        is_mine=each.due.is_for(each.reader),
        act=_on_a_screen(told, each.form or "", each.due.about),
    )


def _on_a_screen(told: Remedy, form: str, about: str) -> tuple[str, str] | None:
    """The first of its acts that the app signs, and the screen for it; None where there is none."""
    known = {"form": form, "envelope": about if _is_envelope(about) else ""}
    for step in told.steps:
        screen = (DOCK if "dock" in step.facts else ON_SCREENS.get(step.act, "")).format(**known)
        if screen and not screen.endswith("/"):
            return words.plain(step.act), screen
    return None


def _is_envelope(about: str) -> bool:
    return len(about) == LENGTH and kind_of(about) == "envelope"


def _coming(each: Wanted) -> HomeLine:
    """What a laboratory or a person waits for: until it is late nobody is to be asked."""
    line = _wanted(each)
    can = each.reader.role in ROWS[name_of(acts.Received)].may
    now = line.now if each.due.overdue else _WHEN_IT_COMES
    at_the_dock = can and _is_envelope(each.due.about)
    act = (words.plain(name_of(acts.Received)), DOCK.format(envelope=each.due.about)) if at_the_dock else None
    return HomeLine(line.number, line.says, now, is_overdue=each.due.overdue, is_mine=can, act=act)


def _given(each: Wanted, asker: Asker) -> HomeLine:
    """What waits to be received here: by whom it was given to, or by anybody who receives."""
    line, kid = _wanted(each), each.due.to[1] if each.due.to else None
    can = asker.role in ROWS[name_of(acts.Received)].may and kid in (None, asker.kid)
    act = (words.plain(name_of(acts.Received)), "take") if can else None
    now = _COUNT_AND_RECEIVE if can else _RECEIVER_SIGNS
    return HomeLine(line.number, line.says, now, is_overdue=line.is_overdue, is_mine=can, act=act)


def tile(form: Form) -> NewForm:
    """A form among the newest."""
    opened, live = form.opened.of(Opened), list(form.live)
    void = [] if live else [each for each in form.samples.values() if each.claims]
    none = words.VOID if void else words.STATUSES["announced"]
    states = sorted({words.status(each.status) for each in live}) or [none]
    parties = words.parties(opened.parties.firm, opened.parties.lab)
    count = len(live or void)
    return NewForm(form.number, f"Visit of {day(opened.visit)}", start(parties), ", ".join(states), count)


def left_out(needs: Needs) -> str:
    """What of the open forms was not looked at here; empty where all were."""
    said = []
    if needs.not_judged:
        said.append(
            f"{counted(needs.not_judged, 'open form')} more: not judged here, open it to see its findings"
        )
    if needs.not_read:
        said.append(f"{counted(needs.not_read, 'open form')} more: not read here, see `bailee chase`")
    return f"{words.NOT_CHECKED}: {'; '.join(said)}." if said else ""
