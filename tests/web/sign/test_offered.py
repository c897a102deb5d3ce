"""What a visit's screen offers: by the role of whoever holds the phone, and by what is not finished on it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from bailee.domain.acts.table import ROWS

if TYPE_CHECKING:
    from conftest import Modules

pytestmark = pytest.mark.slow

ROLES = ("inspector", "clerk", "custodian", "analyst", "quality", "media_keeper", "admin", "root")
FORM, SAMPLES = "F00000000000", ("S00000000001", "S00000000002")
WAYS = {
    "secure": "held",
    "void": "voided",
    "rule-out": "outdoor_ruled_out",
    "conditions": "conditions_read",
    "changed": "building_changed",
    "surface": "surface_collected",
    "request": "requested",
    "correct": "corrected",
    "allow": "excepted",
    "cassette": "collected",
    "give": "relinquished",
}
"""Of a visit on which this phone holds a sample that it did not collect, and no outdoor control."""

PHONE = """
const names = ["phone", "vocabulary", "screens/words", "core/statement"];
const [{ Phone }, { vocabulary }, { words }, { conceal }] =
  await Promise.all(names.map(each => import(`/${each}.js`)));
const none = async () => [];
const phone = (role, brief, rows = [], drafts = []) => Object.assign(Object.create(Phone.prototype), {
  vocabulary, brief, standing: { role, person: "Ines Marlow" },
  device: { kid: "A".repeat(43), org: "harrow-field", origin: "o" },
  now: () => Date.parse("2026-12-01T14:00:00Z"),
  store: { all: async () => rows, inStates: none, drafts: async () => drafts, under: none },
});
const go = title => ({ title, body: [], bar: [] });
const rest = { say: String, when: String, go, typed: () => null, unsigned: { all: none } };
const context = phone => ({ phone, words, ...rest });
const drawn = ({ body, bar }) => {
  const whole = document.createElement("div");
  whole.append(...[...body, ...bar].flat().filter(Boolean));
  return whole;
};
const ways = whole => [...whole.querySelectorAll("a")].map(each => each.getAttribute("href"));
"""
"""A phone with a memory, as its screens see it."""


def brief() -> dict[str, Any]:
    """One visit under way, with an indoor sample that this phone holds."""
    held = {"sample": SAMPLES[0], "kind": "indoor", "holder": "A" * 43}
    visit = {"form": FORM, "zone": "America/New_York", "lab": "quill-lab", "visit": "2026-12-01"}
    form = {**visit, "outdoor_ruled_out": None, "length": 3, "samples": [held]}
    return {"forms": [form], "lots": [], "people": [], "policy": {"min_outdoor": 1}, "at": 0}


def test_nobody_is_offered_what_their_role_does_not_sign(modules: Modules) -> None:
    """A clerk voids a sample in the office, and it is a finding for ever. Roles are the registry's."""
    found = modules.run(
        "screens/visit.js",
        f"""async (m, [form, brief, roles]) => {{ {PHONE}
            const shown = role => m.visit(context(phone(role, brief)), form).then(drawn).then(ways);
            return Promise.all(roles.map(shown));
        }}""",
        [FORM, brief(), ROLES],
    )
    for role, ways in zip(ROLES, found, strict=True):
        offered = {f"#{way}" for way, act in WAYS.items() if role in ROWS[act].may}
        if role in ROWS["sealed"].may - ROWS["collected"].may:  # who packs what others collected
            offered.add("#pack")
        assert {each.partition("/")[0] for each in ways} == offered | {"#home"}, role
    assert f"#void/{FORM}" in found[0]
    assert f"#void/{FORM}" not in found[1]


def test_a_run_that_is_not_signed_is_told_before_samples_are_relinquished(modules: Modules) -> None:
    """The second pump still runs in the bedroom, the bag is handed over, and a cassette stays behind."""
    started = {"sample": SAMPLES[1], "form": FORM, "started": 1_796_133_000_000}
    found = modules.run(
        "screens/hand.js",
        f"""async (m, [form, brief, all]) => {{ {PHONE}
            const on = (brief, drafts) => context(phone("inspector", brief, [], drafts));
            const shown = async (brief, drafts) => drawn(await m.give(on(brief, drafts), form));
            const empty = {{ ...brief, forms: brief.forms.map(each => ({{ ...each, samples: [] }})) }};
            const elsewhere = all.map(each => ({{ ...each, form: "F2" }}));
            const asked = [[brief, all], [brief, []], [brief, elsewhere], [empty, all]];
            const screens = await Promise.all(asked.map(each => shown(...each)));
            return screens.map(each => [each.textContent.includes(words.runsFirst), ways(each)]);
        }}""",
        [FORM, brief(), [started]],
    )
    way, back = f"#run/{SAMPLES[1]}", f"#visit/{FORM}"
    assert found == [[True, [way, back]], [False, [back]], [False, [back]], [True, [way, "#home"]]]


def test_visits_have_their_address_on_the_phone_that_was_told_it(modules: Modules) -> None:
    """Three numbers of twelve characters, and the cassette goes to the wrong house. The address is private:
    another phone does not know it, and the brief never does.
    """
    found = modules.run(
        "screens/home.js",
        f"""async (m, [form, brief]) => {{ {PHONE}
            const {{ texts }} = await conceal({{ site: "12 Invented Lane", client: "Perpetua Example" }});
            const data = {{ parties: {{ lab: "quill-lab" }}, zone: "America/New_York", visit: "2026-12-01" }};
            const row = {{ chain: `form/${{form}}`, act: "opened", data, disclosures: texts }};
            const opened = {{ ...row, state: "registered", seq: 1, signed: 0 }};
            const on = rows => context(phone("inspector", brief, rows));
            const shown = async rows => drawn(await m.home(on(rows))).textContent;
            const signed = drawn(await m.signed(on([opened])));
            return [await shown([opened]), await shown([]), signed.textContent];
        }}""",
        [FORM, brief()],
    )
    assert ["12 Invented Lane" in each for each in found] == [True, False, True]
    assert not any("Perpetua" in each for each in found)
