// A visit begins: cautions first, then what the form is opened with.

import { present } from "../core/facts.js";
import { dayAt, isZone } from "../core/moments.js";
import { issue } from "../core/numbers.js";
import * as slips from "../core/slips.js";
import { toldIn } from "../core/statement.js";
import { askedBack } from "../parts/asked_back.js";
import { el } from "../parts/el.js";
import { ask, datalist, folded, line, refuse, yesNo } from "../parts/fields.js";
import { button, link } from "../parts/frame.js";
import { code, day, decimal, free, organization, tag } from "../parts/kinds.js";

export async function begin({ words, phone, go }) {
  await phone.copies.proveRoom(); // No visit begins on a phone that cannot keep it.
  const { cautions, cautions_end: end } = phone.vocabulary;
  return {
    title: words.cautions,
    body: [el("ol", { class: "read" }, ...cautions.map((each) => el("li", {}, each))), el("p", {}, end)],
    bar: [button(words.cautionsRead, () => go("opening")), link(words.home, "#home")],
  };
}

// What a terminal asks until it is said; here it is asked back once.
const TOLD = {
  ventilation: ({ words }) => words.ventilation,
  fresh_air: ({ words }) => words.freshAir,
  analysis: ({ say }) => say("analysis", "tag"),
  turnaround: ({ say }) => say("turnaround", "tag"),
};

export function opening(context) {
  const { words, phone, go } = context;
  const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
  const known = phone.brief?.laboratories ?? [];
  const reason = code(context, words.growthReason, "opened", "growth_reason", { isOptional: true });
  const growthNote = el("div", { hidden: true }, el("p", { class: "note warn" }, phone.vocabulary.visible_growth), reason.element);
  const hours = (label) => decimal(words, label, { hint: words.hoursHint });
  const freshAirOff = decimal(words, words.freshAirOff);
  freshAirOff.element.hidden = true;
  const needing = phone.brief?.licensing ?? [];
  const listed = (text) => needing.find((each) => each.toLowerCase() === text?.trim().toLowerCase());
  const jurisdiction = tag(words, words.jurisdiction, { hint: words.jurisdictionHint(needing.join(", ")), list: datalist(needing) });
  const license = tag(words, words.license, { hint: words.licenseHint });
  const licenseValidTo = day(words, words.licenseValidTo);
  const held = el("div", { hidden: true }, license.element, licenseValidTo.element);
  jurisdiction.input.addEventListener("input", () => (held.hidden = !listed(jurisdiction.input.value)));
  const fields = {
    lab: organization(words, words.lab, { value: known.length === 1 ? known[0] : "", list: datalist(known) }),
    zone: line(words, words.zone, { value: isZone(here) ? here : "", read: zoneOf, wrong: () => words.zoneWrong }),
    client: free(words, words.client),
    site: free(words, words.site),
    contact: free(words, words.contact),
    question: free(words, words.question),
    ...(needing.length ? { jurisdiction, license, license_valid_to: licenseValidTo } : {}),
    // It goes with every answer about the building.
    ventilation: code({ ...context, words: { ...words, optional: words.withAnyBelow } }, words.ventilation, "opened", "preparation.ventilation", { isOptional: true }),
    windows_closed_h: hours(words.windows),
    purifiers_off_h: hours(words.purifiers),
    fresh_air: code(context, words.freshAir, "opened", "preparation.fresh_air", {
      isOptional: true,
      changed: (is) => (freshAirOff.element.hidden = is !== "off"),
    }),
    fresh_air_off_h: freshAirOff,
    cleaned_h_ago: hours(words.cleaned),
    works_h_ago: hours(words.works),
    visible_growth: yesNo(words, words.growth, { isOptional: true, changed: (is) => (growthNote.hidden = !is) }),
    growth_reason: reason,
    method: tag(words, context.say("method", "tag")),
    project: tag(words, context.say("project", "tag")),
    analysis: tag(words, context.say("analysis", "tag")),
    turnaround: tag(words, context.say("turnaround", "tag")),
    plan: tag(words, words.plan),
    note: free(words, words.note),
  };
  const shown = (...names) => names.map((name) => fields[name].element);
  const back = askedBack(words);
  const sign = async () => {
    const said = ask(fields);
    if (!said) return;
    const form = issue("form");
    const draft = opened(phone, form, { ...said, jurisdiction: listed(said.jurisdiction) ?? said.jurisdiction });
    if (draft.data.preparation && !said.ventilation) return void refuse(fields.ventilation, words.choose);
    const strange = known.includes(said.lab) ? [] : slips.unknown(said.lab, await phone.nearest(said.lab));
    const unsaid = Object.keys(TOLD).filter((name) => !said[name]);
    for (const name of unsaid) fields[name].element.closest("details")?.setAttribute("open", "");
    const left = unsaid.length ? [{ code: "not-answered", member: unsaid[0], facts: { titles: unsaid.map((name) => TOLD[name](context)) } }] : [];
    const before = (await phone.said()).filter((row) => row.act === "opened").map((row) => toldIn(row.disclosures));
    const found = [...slips.opened(draft.data, dayAt(phone.now(), said.zone)), ...slips.swapped(said, before), ...strange, ...left];
    if (!back.settled(found)) return;
    const rows = await context.sign(draft);
    if (rows) await go(`visit/${form}`);
  };
  return {
    title: words.visitTitle,
    fields,
    body: [
      ...shown("lab", "zone", "client", "site", "contact", "question"),
      ...(needing.length ? [jurisdiction.element, held] : []),
      el("h2", {}, words.found),
      ...shown("ventilation", "windows_closed_h", "purifiers_off_h", "fresh_air", "fresh_air_off_h", "cleaned_h_ago", "works_h_ago", "visible_growth"),
      growthNote,
      folded(words.more, ...shown("method", "project", "analysis", "turnaround", "plan", "note")),
      back.element,
    ],
    bar: [button(words.signOpened, sign), link(words.home, "#home")],
  };
}

function zoneOf(text) {
  if (!isZone(text)) throw new Error("zone");
  return text;
}

// As `bailee open` says it: hours that were left open are said as none, once anything was answered.
function opened(phone, form, said) {
  const { windows_closed_h, purifiers_off_h, cleaned_h_ago, works_h_ago } = said;
  const hours = { windows_closed_h, purifiers_off_h, cleaned_h_ago, works_h_ago };
  const found = Object.fromEntries(["ventilation", "fresh_air", "fresh_air_off_h"].filter((name) => said[name]).map((name) => [name, said[name]]));
  const isAnswered = Object.keys(found).length > 0 || Object.values(hours).some((each) => each !== null);
  const data = {
    edition: phone.vocabulary.edition,
    parties: { firm: phone.device.org, lab: said.lab },
    visit: dayAt(phone.now(), said.zone),
    zone: said.zone,
    preparation: isAnswered ? { ...hours, ...found } : null,
    license: said.jurisdiction ? present({ jurisdiction: said.jurisdiction, number: said.license, valid_to: said.license_valid_to }) : null,
    question_given: said.question ? true : null,
  };
  for (const name of ["method", "project", "analysis", "turnaround", "plan", "visible_growth", "growth_reason"]) {
    data[name] = said[name] ?? null;
  }
  const { client, site, contact, question, note } = said;
  return { chain: `form/${form}`, act: "opened", data, private: { client, site, contact, question, note }, zone: said.zone };
}
