"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import CLERK, DAY, FIRM, ROOT
from log_simulator import LogSimulator
from spoiling import LATER, log_it

_HELD = {"secured": "locked", "where": "office", "since": f"{DAY}T16:00:00-05:00"}


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The last thing said is of an edition that nobody knows yet."""
    form, org = f"form/{town.form}", f"org/{FIRM}"
    match variant:
        case "a member":
            return log_it(town, town.signed(CLERK, form, "held", {**_HELD, "logger": "T-9"}, said=LATER))
        case "a code":
            return log_it(town, town.signed(CLERK, form, "held", {**_HELD, "where": "locker"}, said=LATER))
        case "a policy":
            data = {"policy": {"edition": 2, "samples_per_room": 4}}
            town.append(org, town.signed(ROOT, org, "policy_set", data, said=LATER))
            return town.bundle()
    raise AssertionError(variant)
