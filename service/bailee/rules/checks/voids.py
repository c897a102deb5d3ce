"""CU: a sample is voided after a laboratory had it. Of a void sample the other rules say nothing more, so
this one says that it is void.
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
    "CU-21", "Voided after receipt", "warn", "custody", "common practice, no source",
    advice(
        "Nothing to fix if it is so: it is printed on the custody record. If the wrong sample was named, the"
        " signer corrects that.",
        do("corrected", "sample", of="voided", field="sample", new=..., reason="wrong_item"),
    ),
)  # fmt: skip
def after_receipt(case: Case) -> Iterator[Hit]:
    """By the order of the log: whoever voids what a result speaks against cannot date that back."""
    for form in case.forms.values():
        for sample in form.samples.values():
            if sample.void and _received_before(form, sample, sample.void.entry.n):
                entry, why = sample.void.entry, sample.void.of(Voided).reason.replace("_", " ")
                who = f"{case.person(entry.org, entry.kid)} of {entry.org}"
                said = (
                    f"{{samples}} {{was}} voided by {who} ({why}) after receipt at the laboratory;"
                    " nothing else is listed about {these} any more."
                )
                yield replace(shared(form, sample, said), entries=(entry.n,))


def _received_before(form: Form, sample: Sample, n: int) -> bool:
    return any(
        isinstance(link.received.body, Received | TakenIn)
        and link.received.org in form.laboratories
        and link.received.n < n
        for link in sample.links
    )
