"""For whom, where and when a remedy is possible: the acts that it offers, the parts it is told in, and who
reads them.

A part is told at the stages at which it can be done. Whoever cannot do it, by role or because it is the other
side's, is told whom to ask; what they can do is offered to them as acts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final, Literal, get_args

from bailee.domain.acts.form import (
    BuildingChanged,
    Collected,
    ConditionsRead,
    Copied,
    Corrected,
    Opened,
    OutdoorRuledOut,
    PumpChecked,
    Received,
)
from bailee.domain.acts.row import ANYBODY, Roles
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.acts.table import ROWS, name_of
from bailee.domain.corrections import VOUCHING
from bailee.domain.fields import Role
from bailee.frozen import frozen

Fact = str | int | bool | None
ToldAct = Mapping[str, Fact]
"""An act as a finding tells it: its name as `act`, then what is known; None is for the person to give."""
Number = Literal["sample", "form", "envelope", "lot", "about", "statement"]

ON_A_DEVICE: Final[Mapping[str, str]] = {
    "print_label": "Print the label of a sample or an envelope.",
    "print_record": "Print the custody record of a form.",
    "send_waiting": "Send what this device has signed, and fetch what others recorded.",
    "ask_window": "Ask when an envelope would arrive, and by when to ship it.",
    "look_up": "Look at a sample, form, envelope or lot.",
    "look_at_lots": "Look which lots there are, and what is left of one.",
    "find_uses": "List where the cassettes of a lot were used.",
    "check_kit": "Scan the kit: will it do for the visit?",
    "write_notice": "Write the page that asks occupants to prepare for a visit.",
    "make_link": "Make a new link that opens the pages.",
    "ask_time_stamp": "Write a request for a time stamp, for the newest checkpoint.",
    "check_ledger": "Check every entry and file of the ledger.",
    "repair_ledger": "Bring missing entries back after an old copy of the database.",
}
"""What is done with the program and signs nothing, with its meaning; the last three by the operator."""


Stage = Literal["site", "office", "sent", "laboratory"]
"""Where what a finding is about is: with those who collected it, elsewhere before it left, on its way, or at
a laboratory."""
STAGES: Final = frozenset(get_args(Stage))
NOT_LEFT: Final[frozenset[Stage]] = frozenset({"site", "office"})
LEFT: Final[frozenset[Stage]] = STAGES - NOT_LEFT

Side = Literal["firm", "laboratory"]
_SIDES: Final[Mapping[str, Side]] = {
    "inspector": "firm",
    "clerk": "firm",
    "media_keeper": "firm",
    "custodian": "laboratory",
    "analyst": "laboratory",
}
"""By role, whose it is; of the others both have some."""
_THE_FIRM_S: Final = frozenset(
    map(
        name_of,
        (Opened, Collected, SurfaceCollected, PumpChecked, OutdoorRuledOut, ConditionsRead, BuildingChanged),
    )
)
_AT_THE_DOCK: Final[Roles] = frozenset({"custodian", "quality"})


@frozen
class Step:
    """One act as a rule writes it: with the numbers that the finding fills in, and the facts that are known
    beforehand.
    """

    act: str
    numbers: tuple[Number, ...]
    facts: Mapping[str, Fact]

    @property
    def who(self) -> Roles:
        """The roles that can do it. Of a correction those that may make it of what somebody else saw."""
        if self.act in ON_A_DEVICE:
            return ANYBODY
        if self.act == name_of(Corrected):
            return self._who_corrects
        if self.act == name_of(Received) and "dock" in self.facts:
            return _AT_THE_DOCK
        return ROWS[self.act].may

    @property
    def _who_corrects(self) -> Roles:
        row, field = ROWS[str(self.facts.get("of") or name_of(Collected))], str(self.facts.get("field") or "")
        may = ROWS[name_of(Corrected)].may
        if field.partition(".")[0] in row.seen:
            return frozenset(role for role in may if role in row.may or role in VOUCHING)
        return row.may & may if row.is_decision else may

    @property
    def side(self) -> Side | None:
        """Whose act it is, the firm's or the laboratory's; None for what both do. To issue a result is the
        laboratory's, whoever has a copy of it.
        """
        if self.act == name_of(Copied) and self.facts.get("of") == "result":
            return "laboratory"
        of = str(self.facts.get("of") or name_of(Collected)) if self.act == name_of(Corrected) else self.act
        if of in _THE_FIRM_S:
            return "firm"
        of_the_dock = "dock" in self.facts or str(self.facts.get("field") or "").startswith("dock.")
        is_decision = of in ROWS and ROWS[of].is_decision
        return "laboratory" if is_decision or (of == name_of(Received) and of_the_dock) else None


@frozen
class Audience:
    """Who reads a finding: one of the roles, on the side of the firm or of a laboratory of the form.

    Neither: somebody who is known to be on neither, or a paper, which everybody reads.
    """

    role: str = ""
    side: Side | None = None

    def can(self, step: Step) -> bool:
        """Whether they can do it."""
        own = not (self.side and step.side) or self.side == step.side
        return not self.role or (own and self.role in step.who)


EVERYBODY: Final = Audience()


@frozen
class Part:
    """One thing to do: in words, with the acts that do it, at which stages and by which roles it is possible.

    Of several roles the first one is asked; none: those that can do one of its acts. `is_told`: the words
    hold for everybody, whoever does it. `is_asked_for`: others are told whom to ask for it; otherwise they
    are told nothing of it. `whom`: of a part as it is told, whom to ask, if it is not for the reader.
    """

    words: str
    steps: tuple[Step, ...] = ()
    at: frozenset[Stage] = STAGES
    roles: tuple[Role, ...] = ()
    is_told: bool = False
    is_asked_for: bool = True
    whom: str = ""

    @property
    def who(self) -> Roles:
        """The roles that can do it; everybody where nothing says otherwise."""
        return frozenset(self.roles) or frozenset().union(*(step.who for step in self.steps)) or ANYBODY

    def by(self, reader: Audience) -> bool:
        """Whether it is this reader who does it."""
        if not reader.role or (self.is_told and not self.steps):
            return True
        if self.roles and not self._is_theirs(reader):
            return False
        return not self.steps or any(reader.can(step) for step in self.steps)

    def _is_theirs(self, reader: Audience) -> bool:
        sides = {_SIDES[role] for role in self.roles if role in _SIDES}
        return reader.role in self.roles and (not reader.side or not sides or reader.side in sides)

    def read(self, reader: Audience) -> Part:
        """The same for a reader: what they cannot do is told as something to ask for, and offers no act."""
        if self.is_told or self.by(reader):
            return replace(self, steps=tuple(step for step in self.steps if reader.can(step)))
        words = self.words.removeprefix(STILL_ON_SITE) if self.is_asked_for else ""
        return replace(self, words=words, steps=(), whom=self._whom(reader))

    def _whom(self, reader: Audience) -> str:
        sides = {step.side for step in self.steps} | {_SIDES.get(role) for role in self.roles}
        other = next((side for side in sides if side and reader.side and side != reader.side), None)
        if other:
            return "the sampling firm" if other == "firm" else "the laboratory"
        role = next(each for each in self.roles or _IN_ORDER if each in self.who)
        return f"the {role.replace('_', ' ')}" + (" role" if role == "quality" else "")


STILL_ON_SITE: Final = "Still on site: "
_IN_ORDER: Final = (
    "inspector", "clerk", "custodian", "media_keeper", "quality", "admin", "root", "analyst",
)  # fmt: skip
"""Whom one asks first, of several who can do it."""
