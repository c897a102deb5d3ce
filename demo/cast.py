"""Invented people of an invented firm and laboratory: keys made, organizations founded, everybody enrolled,
calendars set.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

from ground import DemoError
from stage import Stage

FIRM: Final = "harrow-field"
LAB: Final = "quill-lab"
ORIGIN: Final = "demo.harrow-field.example/log1"

PEOPLE: Final = {
    "office": ("Odile Harrow", FIRM, "root"),
    "keeper": ("Mina Tarn", FIRM, "media_keeper"),
    "inspector": ("Ines Marlow", FIRM, "inspector"),
    "second": ("Bram Sorrel", FIRM, "inspector"),
    "clerk": ("Cato Wren", FIRM, "clerk"),
    "quality": ("Quentin Ashby", FIRM, "quality"),
    "lab": ("Lorna Quill", LAB, "root"),
    "dock": ("Dov Larkspur", LAB, "custodian"),
    "lab-quality": ("Lys Penhallow", LAB, "quality"),
}
"""Profile → printed name, organization, role."""

# Seven hours of daylight each, and never more than seven hours from one to the next: somewhere it is day.
_ZONES: Final = (
    "America/New_York",
    "America/Los_Angeles",
    "Europe/Berlin",
    "Asia/Kolkata",
    "Asia/Tokyo",
    "Pacific/Auckland",
    "Pacific/Honolulu",
)


@dataclass
class Story:
    """What is known so far: the stage, the site's zone and clock, the service, and the numbers
    that came up.
    """

    stage: Stage
    zone: str
    address: str
    log_key: str
    policy: Path
    roots: dict[str, str] = field(default_factory=dict)
    kids: dict[str, str] = field(default_factory=dict)

    @property
    def out(self) -> Path:
        """Where everything is written."""
        return self.stage.folder

    def clock(self, minutes_ago: int = 0) -> str:
        """The clock on site, so many minutes ago, as one types it."""
        return f"{datetime.now(ZoneInfo(self.zone)) - timedelta(minutes=minutes_ago):%Y-%m-%d %H:%M}"

    @property
    def trust(self) -> list[str]:
        """What an auditor brings from outside: root keys, and whose signatures the log must carry."""
        roots = [word for org, root in self.roots.items() for word in ("--root", f"{org}={root}")]
        return [*roots, "--policy", str(self.policy)]


def daytime_zone(now: datetime) -> str:
    """A zone in which it is between nine and four: runs, hand-over and cut-off then fall on one working day,
    whenever this is played.
    """
    return next(zone for zone in _ZONES if 9 <= now.astimezone(ZoneInfo(zone)).hour < 16)


def settle(story: Story, home: Path) -> None:
    """From nothing to two organizations at work."""
    stage = story.stage
    _found(story, "office", "Harrow & Field", home)
    _found(story, "lab", "Quill Laboratory", home)
    stage.headline(
        "Ines Marlow makes a key on her phone; the office has met her and enrolls it as an inspector's."
    )
    _enroll(story, "inspector", silent=False)
    others = [who for who, (_, _, role) in PEOPLE.items() if who != "inspector" and role != "root"]
    stage.headline("So do the others, each with a key that never leaves its own device.")
    for who in others:
        _enroll(story, who, silent=True)
        name, org, role = PEOPLE[who]
        stage.screen([f"{who:12} {name}, {role.replace('_', ' ')} of {org}: key {story.kids[who][:8]}…"])
    _calendars(story)


def _join(story: Story, who: str, *, silent: bool) -> None:
    org = PEOPLE[who][1]
    story.stage.typed(who, "key", "new", silent=silent)
    story.stage.typed(
        who, "join", "--service", story.address, "--org", org, "--origin", ORIGIN, "--log-key", story.log_key,
        shows=["Joined the log"], silent=silent,
    )  # fmt: skip
    story.kids[who] = story.stage.answer(who, "key", "show")["kid"]


def _found(story: Story, who: str, title: str, home: Path) -> None:
    name, org, _ = PEOPLE[who]
    story.stage.headline(f"{name} makes the root key of {title}; the operator admits it; she founds {org}.")
    _join(story, who, silent=False)
    kid = story.kids[who]
    story.stage.typed("operator", "admit", kid, "--home", str(home), shows=["Admitted"])
    story.stage.typed(who, "found", org, "--name", title, "--person", name, shows=["Recorded", "Root key"])
    story.roots[org] = kid


def _enroll(story: Story, who: str, *, silent: bool) -> None:
    name, org, role = PEOPLE[who]
    _join(story, who, silent=silent)
    request = story.out / "requests" / f"{who}.json"
    request.parent.mkdir(exist_ok=True)
    story.stage.typed(
        who, "key", "request", "--person", name, "-o", str(request), shows=["Send "], silent=silent
    )
    root = next(each for each, (_, of, role_) in PEOPLE.items() if of == org and role_ == "root")
    story.stage.typed(
        root,
        "enroll",
        str(request),
        "--role",
        role,
        "--checked",
        "in_person",
        shows=["Recorded: enrolled"],
        silent=silent,
    )


def ask_for_two(story: Story) -> None:
    """The firm's thresholds for the visitor's visit: one cassette indoors, one outdoors."""
    file = story.out / "thresholds.toml"
    file.write_text("edition = 1\nmin_cassettes = 2\nmin_indoor = 1\nmin_reference = 0\n")
    story.stage.step(
        "For the short visit on screens the office asks for two cassettes: one indoors, one outdoors.",
        "office", "policy", str(file), shows=["Recorded"],
    )  # fmt: skip


def _calendars(story: Story) -> None:
    files = story.out / "calendars"
    files.mkdir()
    every_day = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
    year = datetime.now(ZoneInfo(story.zone)).year
    for name, days, hours in (
        ("lab", every_day, "08:00-17:00"), ("acorn-freight", every_day, "00:00-24:00"),
        ("birch-post", every_day[:5], "00:00-24:00"),
    ):  # fmt: skip
        lines = [f'zone = "{story.zone}"', f"years = [{year}, {year + 1}]", "closed = []"]
        lines += ['cutoff = "23:59"'] * (name == "acorn-freight")  # a visitor may play in the evening
        lines += ["[hours]"]
        lines += [f"{day} = {json.dumps([hours])}" for day in days]
        (files / f"{name}.toml").write_text("\n".join(lines) + "\n")
    story.stage.step(
        "The laboratory signs the hours of its dock, the office those of two invented carriers.",
        "lab", "calendar", "lab", str(files / "lab.toml"), shows=["Recorded: calendar set"],
    )  # fmt: skip
    for carrier in ("acorn-freight", "birch-post"):
        story.stage.typed(
            "office",
            "calendar",
            "carrier",
            str(files / f"{carrier}.toml"),
            "--carrier",
            carrier,
            shows=["Recorded: calendar set"],
        )
    known = story.stage.answer("office", "calendar", "carrier", "--carrier", "birch-post")
    if "sat" in known["hours"]:
        raise DemoError("The calendar of birch-post came back other than it was signed.")
