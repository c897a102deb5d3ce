"""The fold: what the statements of one form mean for every sample on it.

    collected, surface_collected → the sampler holds it
    held       → how the holder keeps it (one of five ways)
    relinquished + received → the next person holds it; one half alone leaves the link incomplete
    sealed     → it is kept by a numbered seal until the seal is opened
    shipped    → a carrier holds the sealed envelope
    taken_in → the laboratory holds the sealed envelope, and its seal goes on covering what is inside
    received (dock) → the laboratory holds it; the seal decides whether the sealed leg is whole
    accepted, on_hold, rejected, voided, disposed → what became of it
    stored, withdrawn → a store of the laboratory keeps it, or somebody there has it again
    forwarded → it goes on under a new number, and the sender holds it until a second laboratory does

The fold never refuses: what cannot be right is kept as an `Oddity` for the rules to name. It reads the
entries in causal order (`causal_order.causal`) with corrections applied (`corrections.effective`), so every
reader comes to the same state. Used by service, rules, documents, command line and offline verifier; there is
no second one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from bailee.domain import causal_order, corrections, day_checks
from bailee.domain.acts.form import (  # fmt: skip
    Affirmed,
    BuildingChanged,
    Collected,
    ConditionsRead,
    Copied,
    Decision,
    Disposed,
    Excepted,
    Forwarded,
    Held,
    LabNumbered,
    Notified,
    Opened,
    OutdoorRuledOut,
    PumpChecked,
    Received,
    Relinquished,
    Requested,
    Sealed,
    Shipped,
    Stored,
    TakenIn,
    Unsealed,
    Voided,
    Withdrawn,
)
from bailee.domain.acts.privacy import Erased, RetentionHeld, RetentionReleased
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.custody import Form, Oddity, Said, Sample
from bailee.domain.facts import Facts
from bailee.domain.folding import envelopes, hands, in_house
from bailee.domain.statements import Recorded


def fold(
    number: str,
    entries: Sequence[Recorded],
    owners: Mapping[str, str] | None = None,
    roles: Mapping[str, str] | None = None,
) -> Form:
    """The state of form `number` after all its `entries` (any order of recording, first one `opened`).

    `owners`: by key, the first key of the same person (`Organization.owners`), so that two devices of one
    person hold as one. `roles`: by key, the role it was enrolled in (`Organization.roles`), which decides
    what it may correct.
    """
    owners, roles = owners or {}, roles or {}
    ordered, followed = corrections.effective(causal_order.causal(entries), owners, roles)
    form = Form(
        number,
        Said(ordered[0], ordered[0].body),
        corrections=followed,
        entries=entries,
        ordered=ordered,
        uncorrected={each.target.digest: each.target for each in reversed(followed) if each.target},
        owners=owners,
        roles=roles,
    )
    for entry in ordered:
        meaning = _MEANING.get(type(entry.body))
        if meaning:
            meaning(form, Said(entry, entry.body))
    day_checks.complete(form)
    hands.name_what_was_left(form)
    form.oddities = [o for o in form.oddities if (o.code, o.entry.n, o.sample) not in form.settled]
    return form


def _opened(form: Form, said: Said) -> None:
    if said.entry is not form.opened.entry:
        form.oddities.append(Oddity("opened-twice", said.entry))


def _received(form: Form, said: Said) -> None:
    """Out of a hand; or out of an envelope, which a laboratory opens, or somebody else did."""
    body = said.of(Received)
    if body.dock is None:
        hands.received(form, said, body)
    elif form.takes_in(said.entry.org, body.dock.envelope):
        envelopes.docked(form, said, body)
    else:
        envelopes.opened_elsewhere(form, said, body)


def _excepted(form: Form, said: Said) -> None:
    form.exceptions.append(said)


def _seen_on_site(form: Form, said: Said) -> None:
    """By the firm: who is not on site sees and reads nothing there."""
    if said.entry.org == form.opened.of(Opened).parties.firm:
        told = form.changes if isinstance(said.entry.body, BuildingChanged) else form.conditions
        told.append(said)


def _requested(form: Form, said: Said) -> None:
    """Of the firm: whoever is to deliver does not say by when, nor what there is. It may be requested before
    it is collected.
    """
    if said.entry.org != form.opened.of(Opened).parties.firm:
        return
    for number in said.of(Requested).samples or ():
        form.samples.setdefault(number, Sample(number))
    form.requests.append(said)


def _affirmed(form: Form, said: Said) -> None:
    form.affirmed.update(said.of(Affirmed).statements)


def _erased(form: Form, said: Said) -> None:
    body = said.of(Erased)
    form.erased[body.statement] = form.erased.get(body.statement, 0) + body.count


def _retention_held(form: Form, said: Said) -> None:
    form.retained[said.entry.org] = said


def _retention_released(form: Form, said: Said) -> None:
    form.retained.pop(said.entry.org, None)


_MEANING: Final[dict[type[Facts], Callable[[Form, Said], None]]] = {
    Opened: _opened,
    Collected: hands.collected,
    SurfaceCollected: hands.collected,
    Held: hands.held,
    Relinquished: hands.relinquished,
    Received: _received,
    TakenIn: envelopes.taken_in,
    Sealed: envelopes.sealed,
    Unsealed: envelopes.unsealed,
    Shipped: envelopes.shipped,
    Decision: in_house.decided,
    LabNumbered: in_house.lab_numbered,
    Voided: in_house.voided,
    Excepted: _excepted,
    OutdoorRuledOut: lambda form, said: form.ruled_out.append(said),
    PumpChecked: lambda form, said: form.pump_checks.append(said),
    ConditionsRead: _seen_on_site,
    BuildingChanged: _seen_on_site,
    Requested: _requested,
    Affirmed: _affirmed,
    Erased: _erased,
    RetentionHeld: _retention_held,
    RetentionReleased: _retention_released,
    Copied: lambda form, said: form.copies.append(said),
    Notified: lambda form, said: form.notices.append(said),
    Disposed: in_house.disposed,
    Stored: in_house.stored,
    Withdrawn: in_house.withdrawn,
    Forwarded: in_house.forwarded,
}
"""What each act on a form changes; an act that is only said changes nothing."""
