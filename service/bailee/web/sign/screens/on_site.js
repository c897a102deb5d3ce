// On site, beside the cassettes: how the air was, and what changed in the building.

import { at } from "../core/moments.js";
import * as slips from "../core/slips.js";
import { degrees, percent, pressure } from "../parts/air.js";
import { askedBack } from "../parts/asked_back.js";
import { picks, refuse } from "../parts/fields.js";
import { el } from "../parts/el.js";
import { code, decimal, free, tag } from "../parts/kinds.js";
import { elements, signing } from "../parts/signing.js";
import { found } from "./visit.js";

export async function conditions(context, form) {
  const { words, phone, go } = context;
  const about = await found(phone, form);
  if (!about) return go("home");
  const fields = {
    where: code(context, words.where, "conditions_read", "where"),
    temperature_c: degrees(words, words.facts.temperature_c),
    humidity_pct: percent(words, words.humidity),
    pressure_hpa: pressure(words, words.pressure),
    rain_ended_h: decimal(words, words.rainEnded, { hint: words.rainEndedHint }),
    unit: tag(words, words.facts.unit),
    instrument: tag(words, words.instrument),
    note: free(words, words.note),
  };
  const back = askedBack(words);
  const drafted = ({ note: text, ...read }) => {
    const isRainIndoors = read.where === "indoors" && read.rain_ended_h !== null;
    const isEmpty = [read.temperature_c, read.humidity_pct, read.pressure_hpa, read.rain_ended_h].every((each) => each === null);
    if (isRainIndoors) return void refuse(fields.rain_ended_h, words.rainIndoors);
    if (isEmpty) return void refuse(fields.temperature_c, words.nothingRead);
    if (!back.settled(slips.pressure(read))) return null;
    const data = { at: at(phone.now(), about.zone), ...read };
    return { chain: `form/${form}`, act: "conditions_read", data, private: { note: text }, zone: about.zone };
  };
  const body = [el("p", {}, words.conditionsText), ...elements(fields), back.element];
  return signing(context, { title: words.readConditions, fields, body, text: words.signConditions, drafted, then: `visit/${form}` });
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
  const drafted = ({ what, was, now, place, note: text }) => {
    if (was === now) return void refuse(fields.now, words.sameState);
    const data = { at: at(phone.now(), about.zone), what, was, now };
    return { chain: `form/${form}`, act: "building_changed", data, private: { place, note: text }, zone: about.zone };
  };
  const body = [el("p", {}, words.changedText), fields.what.element, inside, fields.place.element, fields.note.element];
  return signing(context, { title: words.reportChange, fields, body, text: words.signChanged, drafted, then: `visit/${form}` });
}
