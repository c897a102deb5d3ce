"""An enrolled member of another organization, who does everything that the ledger lets anybody do."""

from __future__ import annotations

from typing import Any

import pytest
from operator_hands import Fields
from promises import promised

from bailee.domain.moments import Moment
from bailee.ledger import entry as entries
from bailee.signing import disclosures
from bailee.verify import bundle
from field import OUTSIDER, Field

pytestmark = pytest.mark.slow


@pytest.fixture
def field(make_field: Fields) -> Field:
    """A firm, its laboratory, and a third organization with a person in every role that these attacks need."""
    found = make_field()
    root = found.roots[OUTSIDER] = found.device("third root", OUTSIDER)
    data = {"name": "Third Party", "jwk": root.key.jwk}
    found.ok(found.send(root.sign(f"org/{OUTSIDER}", "founded", data)), root)
    for role in ("inspector", "clerk", "custodian", "media_keeper"):
        found.people[f"third-{role}"] = found.device(f"third-{role}", OUTSIDER)
        found.enroll(found.people[f"third-{role}"], role)
    return found


def private_names(told: Any) -> set[str]:
    """The names of the private fields beside these entries."""
    return {disclosures.name_of(field) for each in told for field in each["disclosures"]}


def test_a_second_laboratory_reads_entry_by_entry_and_in_its_file_whose_house_it_is(field: Field) -> None:
    """A firm would have told a client that the laboratory further on learns no address, and every entry of the log would tell it."""
    promised("to which samples were sent on asks", "entry by entry")
    form, _, samples, _ = field.faultless()
    items = [
        {"sample": samples[0], "child": field.number("sample"), "item": "slide", "condition": ["stained"]}
    ]
    sent_on = {
        "items": items,
        "count": 1,
        "to": OUTSIDER,
        "purpose": "analysis",
        "at": Moment(field.clock(), -360).text(),
    }
    field.act("dock", f"form/{form}", "forwarded", sent_on, {"note": "for the mineral dust"})
    field.act(
        "third-custodian",
        f"form/{form}",
        "held",
        {"samples": [items[0]["child"]], "secured": "locked", "where": "office", "since": sent_on["at"]},
        {"note": "ours"},
    )
    field.ledger.sequencer.catch_up()
    size = field.head(f"form/{form}")[0]

    def read(who: str) -> list[Any]:
        answers = [field.get(who, f"/entries/{index}") for index in range(200)]
        told = [each.get_json() for each in answers if each.status_code == 200]
        return [each for each in told if each["chain"] == f"form/{form}"]

    third, first = read("third-custodian"), read("dock")
    assert len(third) == len(first) == size
    assert private_names(first) == {"client", "site", "question", "place", "note"}
    assert [each["n"] for each in third if each["disclosures"]] == [size]
    of_others, whole = (
        [
            name
            for each in bundle.read(field.get(who, f"/forms/{form}/bundle").data).entries
            if f"org/{OUTSIDER}" not in (chain := entries.read(each.text).chain) and (chain, each.text) != own
            for name in map(disclosures.name_of, each.disclosures)
        ]
        for who, own in (("third-custodian", (f"form/{form}", third[-1]["entry"])), ("dock", None))
    )
    assert set(of_others) == {"person"}
    assert {*whole} == {"client", "site", "question", "place", "note", "person", "device"}
