"""The building on arrival: closed up, purifiers off and normally ventilated for long enough.

An answer of `null` means never in use, or none done, and is nothing to warn about.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Final

from bailee.domain.custody import Form
from bailee.domain.form_acts import Opened, Preparation
from bailee.rules.case import Case
from bailee.rules.registry import Hit, rule

_VENTILATION: Final = {
    "off": "the ventilation was off",
    "fan_only": "the ventilation ran its fan only",
    "other": "the ventilation was not in its normal mode",
}


@rule(
    "VP-01", "Windows not closed for long enough", "warn", "media", "common practice, no source",
    "Wait, if the samples are still to be taken; afterwards nothing can be cured, and the comparison with outdoor air is "
    "weaker. An answer that is wrong: `bailee correct FORM --act opened --field preparation.windows_closed_h --new … "
    "--reason misread`.",
)  # fmt: skip
def windows(case: Case) -> Iterator[Hit]:
    """Windows and doors closed for fewer hours than wanted, the limit itself being enough."""
    for form, found in _answers(case):
        yield from _too_short(case, form, "windows and doors had been closed for", found.windows_closed_h)


@rule(
    "VP-02", "Air purifier not off for long enough", "warn", "media", "common practice, no source",
    "Wait, if the samples are still to be taken; afterwards nothing can be cured, and indoor counts may read low. An answer"
    " that is wrong: `bailee correct FORM --act opened --field preparation.purifiers_off_h --new … --reason misread`.",
)  # fmt: skip
def purifiers(case: Case) -> Iterator[Hit]:
    """Purifiers and ozone devices off for fewer hours than wanted, the limit itself being enough."""
    for form, found in _answers(case):
        yield from _too_short(case, form, "air purifiers had been off for", found.purifiers_off_h)


@rule(
    "VP-03", "Ventilation not in its normal mode", "warn", "media",
    "Health Canada, guidance on culturable fungi in air (ventilation in operation); common practice",
    "If the samples are still to be taken, set it to its normal mode and wait; afterwards nothing can be cured. An answer "
    "that is wrong: `bailee correct FORM --act opened --field preparation.ventilation --new … --reason misread`.",
)  # fmt: skip
def ventilation(case: Case) -> Iterator[Hit]:
    """Off, fan only, or otherwise unusual. A building without ventilation (`none`) is in its normal state."""
    for form, found in _answers(case):
        if found.ventilation in _VENTILATION:
            yield _hit(form, f"On arrival {_VENTILATION[found.ventilation]}.")


@rule(
    "VP-05", "Preparation not answered", "warn", "media", "ISO/IEC 17025:2017 7.3.3(f)",
    "Ask on site how long windows were closed and purifiers off, and add the answers: `bailee correct FORM --act opened "
    "--field preparation --new … --reason left_out`.",
)  # fmt: skip
def unanswered(case: Case) -> Iterator[Hit]:
    """The visit was opened without saying how the building was found."""
    for form, _ in case.visits():
        if form.opened.of(Opened).preparation is None:
            yield _hit(form, "How the building was prepared was not asked, or the answers were not recorded.")


def _answers(case: Case) -> Iterator[tuple[Form, Preparation]]:
    for form, _ in case.visits():
        found = form.opened.of(Opened).preparation
        if found:
            yield form, found


def _too_short(case: Case, form: Form, what: str, hours: Decimal | None) -> Iterator[Hit]:
    wanted = case.policy(form).preparation_h
    if hours is not None and hours < wanted:
        yield _hit(form, f"On arrival {what} {hours} h; {wanted} h are wanted.", "preparation_h")


def _hit(form: Form, sentence: str, *by: str) -> Hit:
    return Hit(form.number, sentence, entries=(form.opened.entry.n,), by=by)
