"""RC: copies of the record, and results, that were given out: which version counts, and whether it is out of date.

The log holds statements, not papers. Whoever gives a copy out says its version and how far it reads; a single version replaces nothing and
is left alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from bailee.domain.custody import Form, Said
from bailee.domain.form_acts import Copied, Voided
from bailee.rules.case import Case
from bailee.rules.registry import Hit, rule
from bailee.rules.wording import listed, start

_AGAIN: Final = "`bailee copy FORM --of … --version … --reason correction`"
_TWO: Final = (
    "Find out which of them is meant, give it out under the next version, and say so: `bailee copy FORM --of … --version …`. Take the "
    "others back."
)
_REPLACED: Final = "Look which version lies before you, and strike or destroy the older ones."


@rule(
    "RC-18", "Copy given out that no longer says what the record says", "block", "custody",
    "amendments can be traced: ISO/IEC 17025:2017 7.5, by secondary summary; ISO/IEC 17025:2017 7.8.8, from memory",
    "Print it again, give it out under the next version, and say so: " + _AGAIN + ". Report nothing from the old one until then.",
)  # fmt: skip
def which_copy_counts(case: Case) -> Iterator[Hit]:
    """Of every organisation and each thing given out, the highest version counts.

    Grave when something was corrected or voided after the entries it tells of, and when two different copies bear its number. That it
    replaced older ones is noted.
    """
    for form in case.forms.values():
        for (org, what), said in _given_out(form).items():
            highest = max(each.of(Copied).version for each in said)
            counting = [each for each in said if each.of(Copied).version == highest]
            name = f"version {highest} of {what} of {org}"
            entries = tuple(each.entry.n for each in counting)
            if _differ([each.of(Copied) for each in counting]):
                told = f"Two different copies were given out as {name} (entries {listed([str(n) for n in entries])}): nobody can tell which counts."
                yield Hit(form.number, told, entries=entries, remedy=_TWO)
                continue
            reads = min(counting[0].of(Copied).entries, entries[0] - 1)
            if missed := list(_changes(form, reads)):
                told = f"{start(name)} (entry {entries[0]}) tells of entries up to {reads}, and came before {listed(missed)}."
                yield Hit(form.number, told, entries=entries)
            if older := [each for each in said if each not in counting]:
                told = f"{start(name)} (entry {entries[0]}) counts. It replaced {listed([_version(each) for each in older])}."
                yield Hit(form.number, told, "note", entries, remedy=_REPLACED)


def _differ(bodies: Sequence[Copied]) -> bool:
    files = {body.file for body in bodies if body.file}
    return len(files) > 1 or len({body.entries for body in bodies}) > 1


def _given_out(form: Form) -> dict[tuple[str, str], Sequence[Said]]:
    """What was given out, by organisation and by what it is in words."""
    found: dict[tuple[str, str], list[Said]] = {}
    for said in form.copies:
        body = said.of(Copied)
        what = "the custody record" if body.of == "record" else "the result"
        name = f"{what} {body.reference}" if body.reference else what
        found.setdefault((said.entry.org, name), []).append(said)
    return dict(found)


def _changes(form: Form, after: int) -> Iterator[str]:
    """What changed the meaning of earlier entries after this one; the version of a copy says nothing about samples."""
    for made in form.corrections:
        if (
            made.entry.n > after
            and not made.why_not
            and made.target
            and not isinstance(made.target.body, Copied)
        ):
            yield f"the correction of {made.body.field} (entry {made.entry.n})"
    for entry in form.ordered:
        if entry.n > after and isinstance(entry.body, Voided):
            yield f"the void (entry {entry.n})"


def _version(said: Said) -> str:
    return f"version {said.of(Copied).version} (entry {said.entry.n})"
