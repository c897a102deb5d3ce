"""CL-16: who collects on a form. What another organization signs as collected moves nothing there."""

from __future__ import annotations

from collections.abc import Iterator

from bailee.domain.acts.form import Opened
from bailee.domain.custody import Oddity
from bailee.rules.case import Case
from bailee.rules.registry import Hit, rule
from bailee.rules.remedies import for_all
from bailee.rules.wording import samples


@rule(
    "CL-16", "Signed as collected by another organization than the firm", "warn", "custody",
    "common practice, no source",
    for_all(
        "Ask who collected them. A person who collects for the firm signs with a key that the firm's"
        " administrator enrolls; what was collected for another firm is entered on a form of that firm."
    ),
)  # fmt: skip
def collected_by_others(case: Case) -> Iterator[Hit]:
    """It puts no sample on the form and stands beside no claim. Told once of each organization, whatever it
    signs; and about the form, since it says nothing about a sample of the firm.
    """
    for form in case.forms.values():
        by_org: dict[str, list[Oddity]] = {}
        for odd in form.oddities:
            if odd.code == "collected-elsewhere":
                by_org.setdefault(odd.entry.org, []).append(odd)
        for org, claims in by_org.items():
            numbers = list(dict.fromkeys(odd.sample for odd in claims if odd.sample))
            said = (
                f"{case.person(org, claims[0].entry.kid)} of {org} signed that {samples(numbers)}"
                f" {'was' if len(numbers) == 1 else 'were'} collected;"
                f" {form.opened.of(Opened).parties.firm} collects on this form. This counts for nothing."
            )
            yield Hit(form.number, said, entries=tuple(sorted(odd.entry.n for odd in claims)))
