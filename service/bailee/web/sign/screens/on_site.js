// On site, beside the cassettes: how the air was, and what changed in the building.

import { at } from "../core/moments.js";
import { ask, picks } from "../parts/fields.js";
import { button, link } from "../parts/frame.js";
import { el } from "../parts/el.js";
import { code, decimal, degrees, free, percent, tag } from "../parts/kinds.js";
import { found } from "./visit.js";

export async function conditions(context, form) {
  const { words, phone, go } = context;
  const about = await found(phone, form);
  if (!about) return go("home");
  const fields = {
    where: code(context, words.where, "conditions_read", "where"),
    temperature_c: degrees(words, words.facts.temperature_c),
    humidity_pct: percent(words, words.humidity),
    pressure_hpa: decimal(words, words.facts.pressure_hpa),
    rain_ended_h: decimal(words, words.rainEnded, { hint: words.rainEndedHint }),
    unit: tag(words, words.facts.unit),
    instrument: tag(words, words.instrument),
    note: free(words, words.note),
  };
  const sign = async () => {
    const said = ask(fields);
    if (!said) return;
    const { note: text, ...read } = said;
    const isRainIndoors = read.where === "indoors" && read.rain_ended_h !== null;
    const isEmpty = [read.temperature_c, read.humidity_pct, read.pressure_hpa, read.rain_ended_h].every((each) => each === null);
    fields.rain_ended_h.fault(isRainIndoors ? words.rainIndoors : "");
    if (isEmpty) fields.temperature_c.fault(words.nothingRead);
    if (isRainIndoors || isEmpty) return;
    const data = { at: at(phone.now(), about.zone), ...read };
    const draft = { chain: `form/${form}`, act: "conditions_read", data, private: { note: text }, zone: about.zone };
    if (await context.sign(draft)) await go(`visit/${form}`);
  };
  return {
    title: words.readConditions,
    fields,
    body: [el("p", {}, words.conditionsText), ...Object.values(fields).map((each) => each.element)],
    bar: [button(words.signConditions, sign), link(words.back, `#visit/${form}`)],
  };
}

export async function changed(context, form) {
  const { words, phone, say, go } = context;
  const about = await found(phone, form);
  if (!about) return go("home");
  const states = phone.vocabulary.building;
  const inside = el("div", {});
  const fields = {
    what: picks(words, words.changedWhat, Object.keys(states), (code) => words.changes[code], { changed: (what) => asks(what) }),
    place: free(words, words.place),
    note: free(words, words.note),
  };
  const asks = (what) => {
    const state = (label, options = {}) => picks(words, label, states[what], (code) => say(code), options);
    Object.assign(fields, { was: state(words.changedWas, { isOptional: true }), now: state(words.changedNow) });
    inside.replaceChildren(fields.was.element, fields.now.element);
  };
  const sign = async () => {
    const said = ask(fields);
    if (!said) return;
    const { what, was, now, place, note: text } = said;
    if (was === now) {
      fields.now.fault(words.sameState);
      return;
    }
    const data = { at: at(phone.now(), about.zone), what, was, now };
    const draft = { chain: `form/${form}`, act: "building_changed", data, private: { place, note: text }, zone: about.zone };
    if (await context.sign(draft)) await go(`visit/${form}`);
  };
  return {
    title: words.reportChange,
    fields,
    body: [el("p", {}, words.changedText), fields.what.element, inside, fields.place.element, fields.note.element],
    bar: [button(words.signChanged, sign), link(words.back, `#visit/${form}`)],
  };
}
