// One visit: what was collected, what runs, what is still to be done; and how the samples are secured.

import { at } from "../core/moments.js";
import { grouped } from "../core/numbers.js";
import { heldOf, lacksOutdoor, visits } from "../core/visits.js";
import { el, note, number } from "../parts/el.js";
import { ask, picks } from "../parts/fields.js";
import { button, link } from "../parts/frame.js";
import { code, free } from "../parts/kinds.js";
import { running } from "./home.js";

export async function found(phone, form) {
  return visits(await phone.said(), phone.brief, phone.device.kid).find((each) => each.form === form);
}

export async function visit(context, form) {
  const { words, phone, go } = context;
  const about = await found(phone, form);
  if (!about) return go("home");
  const waiting = new Set((await phone.store.inStates(["waiting"])).map((row) => row.data.sample ?? ""));
  const held = heldOf(about);
  const hasPictures = (await phone.pictures()).some((each) => each.form === form);
  const samples = [...about.samples.values()].map((each) => sampleLine(context, each, waiting.has(each.number)));
  const isWithout = lacksOutdoor(about, phone.brief?.policy);
  const may = (act) => phone.vocabulary.acts[act].may.includes(phone.standing.role);
  return {
    title: words.visit,
    body: [
      el("p", {}, number(grouped(form))),
      isWithout ? note("stop", about.ruledOut ? words.outdoorRuledOut(context.say(about.ruledOut, "reason")) : words.noOutdoor) : null,
      await running(words, phone, form),
      el("h2", {}, words.samples),
      samples.length ? el("ul", { class: "rows" }, ...samples) : el("p", { class: "soft" }, words.noSamples),
      el("nav", { class: "ways", "aria-label": words.more }, ...[
        held.length ? link(words.secure, `#secure/${form}`) : null,
        samples.length ? link(words.show, `#show/${form}`) : null,
        held.length ? link(words.void, `#void/${form}`) : null,
        isWithout && may("outdoor_ruled_out") ? link(words.ruleOut, `#rule-out/${form}`) : null,
        may("conditions_read") ? link(words.readConditions, `#conditions/${form}`) : null,
        may("building_changed") ? link(words.reportChange, `#changed/${form}`) : null,
        hasPictures ? link(words.pictures, `#pictures/${form}`) : null,
        may("corrected") ? link(words.correct, `#correct/${form}`) : null,
        may("excepted") ? link(words.allow, `#allow/${form}`) : null,
      ].filter(Boolean)),
    ],
    bar: [
      may("collected") ? link(words.addCassette, `#cassette/${form}`, false) : null,
      held.length ? link(words.give, `#give/${form}`) : null,
    ],
  };
}

function sampleLine({ words, say }, each, isWaiting) {
  const told = [each.kind ? say(each.kind, "kind") : "", each.held ? words.held : words.given, isWaiting ? words.notSent : ""];
  return el("li", {}, number(grouped(each.number)), el("div", { class: "soft" }, told.filter(Boolean).join(", ")));
}

export async function secure(context, form) {
  const { words, phone, go } = context;
  const about = await found(phone, form);
  if (!about) return go("home");
  const fields = {
    secured: code(context, words.how, "held", "secured"),
    where: code(context, words.where, "held", "where"),
    place: free(words, words.place),
    note: free(words, words.note),
  };
  const sign = async () => {
    const said = ask(fields);
    if (!said) return;
    const { secured, where, place, note: text } = said;
    const data = { samples: heldOf(about).map((each) => each.number), secured, where, since: at(phone.now(), about.zone) };
    const rows = await context.sign({ chain: `form/${form}`, act: "held", data, private: { place, note: text }, zone: about.zone });
    if (rows) await go(`visit/${form}`);
  };
  return {
    title: words.secureTitle,
    body: Object.values(fields).map((each) => each.element),
    bar: [button(words.signHeld, sign), link(words.back, `#visit/${form}`)],
  };
}

// What the ledger would remark is asked before, where there is a network, and told before it is signed.
export async function voiding(context, form) {
  const { words, phone, go } = context;
  const about = await found(phone, form);
  if (!about) return go("home");
  const samples = heldOf(about).map((each) => each.number);
  const remarks = el("div", { role: "alert" });
  let told = "";
  const fields = {
    sample: picks(words, words.which, samples, grouped),
    reason: code(context, words.reason, "voided", "reason"),
    note: free(words, words.note),
  };
  const sign = async () => {
    const said = ask(fields);
    if (!said) return;
    const data = { sample: said.sample, reason: said.reason };
    const findings = await phone.remarks({ act: "voided", data, form });
    if (findings.length && told !== JSON.stringify(data)) {
      told = JSON.stringify(data);
      remarks.replaceChildren(...findings.map((each) => note("warn", `${each.sentence} ${each.remedy}`)), el("p", {}, words.voidRemarks));
      return;
    }
    const rows = await context.sign({ chain: `form/${form}`, act: "voided", data, private: { note: said.note }, zone: about.zone });
    if (rows) await go(`visit/${form}`);
  };
  return {
    title: words.voidTitle,
    body: [el("p", {}, words.voidText), ...Object.values(fields).map((each) => each.element), remarks],
    bar: [button(words.signVoided, sign), link(words.back, `#visit/${form}`)],
  };
}

// A reason from a person on site, without which no exception from an outdoor control counts (OC-16).
export async function rulingOut(context, form) {
  const { words, phone, go } = context;
  const about = await found(phone, form);
  if (!about) return go("home");
  const fields = {
    reason: code(context, words.reason, "outdoor_ruled_out", "reason"),
    place: free(words, words.place),
    note: free(words, words.note),
  };
  const sign = async () => {
    const said = ask(fields);
    if (!said) return;
    const { reason, place, note: text } = said;
    const data = { at: at(phone.now(), about.zone), reason };
    const draft = { chain: `form/${form}`, act: "outdoor_ruled_out", data, private: { place, note: text }, zone: about.zone };
    if (await context.sign(draft)) await go(`visit/${form}`);
  };
  return {
    title: words.ruleOutTitle,
    body: [el("p", {}, words.ruleOutText), ...Object.values(fields).map((each) => each.element)],
    bar: [button(words.signRuledOut, sign), link(words.back, `#visit/${form}`)],
  };
}
