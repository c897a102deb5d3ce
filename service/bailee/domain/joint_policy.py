"""Two policies over one form: the firm's own thresholds, and the limits its laboratory accepts samples by.

Rules:
1. Of each threshold the stricter one counts, and it stays known whose it is.
2. A laboratory binds others only by what it stated; what it left out is the firm's affair.
3. A firm is judged by all its thresholds, defaults included.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Literal

from bailee.domain.policy import Policy, is_stricter, meanings
from bailee.frozen import frozen

Owner = Literal["firm", "lab", "both"]


@frozen
class Joint:
    """The thresholds that count, whose each of them is, and the two policies they come from."""

    policy: Policy
    owners: Mapping[str, Owner]
    firm: Policy
    lab: Policy | None = None

    def is_lab(self, *names: str) -> bool:
        """Whether the laboratory is the stricter one in any of these."""
        return any(self.owners[name] == "lab" for name in names)


def stricter(firm: Policy, lab: Policy) -> Joint:
    """The stricter of two policies, member by member; where they are equal the owner is "both"."""
    values: dict[str, Any] = {}
    owners: dict[str, Owner] = {}
    for name, meaning in meanings().items():
        own, theirs = getattr(firm, name), getattr(lab, name)
        is_lab = is_stricter(meaning, theirs, own)
        values[name] = theirs if is_lab else own
        owners[name] = "both" if own == theirs else "lab" if is_lab else "firm"
    return Joint(Policy(**values), owners, firm, lab)


def together(firm: Policy, lab: Policy | None) -> Joint:
    """What counts for a firm's form addressed to a laboratory, which may have published no limits."""
    if lab is None:
        return Joint(firm, dict.fromkeys(firm.keys, "both"), firm)
    said = {name: getattr(lab, name) for name in lab.given}
    return replace(stricter(firm, Policy(**vars(firm) | said)), lab=lab)
