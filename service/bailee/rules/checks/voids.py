"""CU: a void sample that a laboratory has. Of it the other rules say nothing more; this one says that it is
void.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from bailee.domain.acts.form import Received, TakenIn, Voided
from bailee.domain.custody import Form, Sample
from bailee.rules.case import Case
from bailee.rules.registry import Hit, rule, shared
from bailee.rules.remedies import advice, do


@rule(
    "CU-21", "Voided, and received by the laboratory", "warn", "custody", "common practice, no source",
    advice(
        "Nothing to fix if it is so: it is printed on the custody record. If the wrong sample was named, the"
        " signer corrects that.",
        do("corrected", "sample", of="voided", field="sample", new=..., reason="wrong_item"),
    ),
)  # fmt: skip
def void_at_the_laboratory(case: Case) -> Iterator[Hit]:
    """Before or after, by the order of the log: whoever voids what a result speaks against cannot date that
    back.
    """
    for form in case.forms.values():
        for sample in form.samples.values():
            received = _received(form, sample)
            if sample.void and received is not None:
                entry, why = sample.void.entry, sample.void.of(Voided).reason.replace("_", " ")
                who = f"{case.person(entry.org, entry.kid)} of {entry.org}"
                order = "after" if received < entry.n else "before"
                said = (
                    f"{{samples}} {{was}} voided by {who} ({why}), {order} receipt at the laboratory: no"
                    " other finding about {these} is listed."
                )
                yield replace(shared(form, sample, said), entries=(entry.n,))


def _received(form: Form, sample: Sample) -> int | None:
    """The entry by which a laboratory first had it."""
    return next(
        (
            link.received.n
            for link in sample.links
            if isinstance(link.received.body, Received | TakenIn) and link.received.org in form.laboratories
        ),
        None,
    )
