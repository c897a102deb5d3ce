// On site, beside the cassettes: how the air was.

import { at } from "../core/moments.js";
import { ask } from "../parts/fields.js";
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
    title: words.conditionsTitle,
    body: [el("p", {}, words.conditionsText), ...Object.values(fields).map((each) => each.element)],
    bar: [button(words.signConditions, sign), link(words.back, `#visit/${form}`)],
  };
}
