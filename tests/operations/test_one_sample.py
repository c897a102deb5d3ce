"""What is told of one sample among others of its form."""

from __future__ import annotations

from field import Field


def test_what_is_said_of_other_samples_does_not_stand_on_the_page_of_a_sound_one(field: Field) -> None:
    """One sentence for two expired cassettes is about the form, and was read beside the third, too."""
    old, expired = field.lot(2, expiry="2026-05")
    new, (sound,) = field.lot(1)
    form = field.open_form()
    for lot, sample in ((old, expired[0]), (old, expired[1]), (new, sound)):
        field.collect(form, lot, sample)
    told = [
        {each["rule"] for each in field.get("clerk", f"/samples/{sample}").get_json()["findings"]}
        for sample in (*expired, sound)
    ]
    assert ["ML-02" in rules for rules in told] == [True, True, False]
