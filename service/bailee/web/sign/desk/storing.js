// A laboratory's stores and the end of custody: put away, taken out, disposed of or returned; as `bailee store`,
// `withdraw` and `dispose` sign it.

import { present } from "../core/facts.js";
import { at, dayAt, zoneHere } from "../core/moments.js";
import { grouped, labelNumber } from "../core/numbers.js";
import { askedBack } from "../parts/asked_back.js";
import { degrees } from "../parts/air.js";
import { el } from "../parts/el.js";
import { ask, folded, picks } from "../parts/fields.js";
import { alarm, button, link } from "../parts/frame.js";
import { code, day, free, tag } from "../parts/kinds.js";
import { gathered } from "./gathered.js";
import { words as desk } from "./words.js";

const ACTS = ["stored", "withdrawn", "disposed"];
const ASKED = { stored: ["store", "secured", "keep_until", "low_c", "high_c", "note"], withdrawn: ["store", "purpose", "note"], disposed: ["how"] };
const PLACES = "stores"; // each with how it was last said to be secured

export async function stores(context) {
  const { words, phone, go } = context;
  const places = (await phone.store.recall(PLACES)) ?? {};
  const list = gathered(context);
  const store = tag(words, desk.store, { isOptional: false, hint: desk.storeHint });
  const choices = el("div", { class: "ways" });
  const fields = {
    list,
    act: picks(words, desk.whatIsDone, ACTS, (each) => desk.storing[each], { isWide: true, changed: () => retold() }),
    store,
    secured: code(context, words.how, "stored", "secured"),
    keep_until: day(words, desk.keepUntil),
    low_c: degrees(words, desk.lowest),
    high_c: degrees(words, desk.highest),
    purpose: code(context, words.purpose, "withdrawn", "purpose"),
    how: code(context, desk.howEnded, "disposed", "how"),
    note: free(words, words.note),
  };
  const act = () => fields.act.kept();
  // One tap for a place that is on record here, or was named on this device.
  const retold = () => {
    for (const [name, field] of Object.entries(fields)) if (!["list", "act"].includes(name)) field.element.hidden = !act() || !ASKED[act()].includes(name);
    choices.hidden = more.hidden = !act();
    const known = lying(list.samples);
    const offered = act() === "stored" ? [...new Set([...known, ...Object.keys(places)])] : known;
    choices.replaceChildren(...(act() === "disposed" ? [] : offered.map((each) => button(each, () => chosen(each), { second: true }))));
    if (act() === "withdrawn" && known.length === 1 && !store.input.value) store.input.value = known[0];
    more.hidden = act() !== "stored";
    sign.textContent = desk.signStoring[act() ?? "stored"](list.samples.size);
  };
  const chosen = (place) => {
    store.put(place);
    if (act() === "stored" && places[place]) fields.secured.put(places[place]);
  };
  const more = folded(words.more, fields.low_c.element, fields.high_c.element);
  const back = askedBack({ ...words, slips: desk.storingSlips });
  const sign = button("", async () => {
    const { act: done, list: _, ...others } = fields;
    const what = ask({ done });
    const said = what && ask(others);
    if (!said) return;
    if (!list.samples.size) return void alarm(desk.noSamples);
    if (!back.settled(slips(what.done, said, list.samples, dayAt(phone.now(), zoneHere())))) return;
    const { note, ...data } = said;
    const when = at(phone.now(), zoneHere());
    const drafts = list.byForm().map(({ form, samples }) =>
      ({ chain: `form/${form.form}`, act: what.done, data: present({ samples, ...data, at: when }), private: what.done === "disposed" ? {} : { note }, zone: form.zone }));
    if (!(await context.sign(...drafts))) return;
    if (what.done === "stored") await phone.store.remember(PLACES, { ...places, [said.store]: said.secured });
    await go("signed");
  });
  list.element.addEventListener("change", () => retold());
  retold();
  return {
    title: words.stores,
    fields,
    body: [
      el("div", { class: "desk" },
        el("div", {}, list.element),
        el("div", {}, fields.act.element, store.element, choices, ...["secured", "keep_until", "purpose", "how"].map((name) => fields[name].element), more, fields.note.element, back.element)),
    ],
    bar: [sign, link(words.home, "#home")],
  };
}

const lying = (samples) => [...new Set([...samples.values()].map(({ told }) => told.store).filter(Boolean))].toSorted();

// As the terminal asks back: a label instead of a store, a store in which none of them lies, a day that is not over.
function slips(act, { store, how, low_c: low, high_c: high }, samples, today) {
  const label = store && labelNumber(store);
  const known = lying(samples);
  const early = [...samples].filter(([, { told }]) => told.keep_until && today < told.keep_until);
  return [
    label ? { code: "label-as-store", facts: { number: grouped(label) } } : null,
    act === "withdrawn" && !known.includes(store) ? { code: "nothing-in-store", facts: { store, known } } : null,
    low && high && Number(low) > Number(high) ? { code: "upside-down", facts: { low, high } } : null,
    ...(act === "disposed" && how !== "archived" ? early.map(([sample, { told }]) => ({ code: "kept-longer", facts: { sample: grouped(sample), until: told.keep_until, today } })) : []),
  ].filter(Boolean);
}
