// One visit: what was collected, what runs, what is still to be done; and how the samples are secured.

import { at } from "../core/moments.js";
import { grouped, read as readNumber } from "../core/numbers.js";
import { COLLECTING, heldOf, lacksOutdoor, visits } from "../core/visits.js";
import { el, note, number, numberAt } from "../parts/el.js";
import { picks } from "../parts/fields.js";
import { alarm, link } from "../parts/frame.js";
import { code, free, wrongNumber } from "../parts/kinds.js";
import { elements, signing } from "../parts/signing.js";
import { running } from "./home.js";

export async function found(phone, form) {
  return visits(await phone.said(), phone.brief, phone.device.kid).find((each) => each.form === form);
}

export async function visit(context, form) {
  const { words, phone, go } = context;
  const own = await phone.said();
  const about = visits(own, phone.brief, phone.device.kid).find((each) => each.form === form);
  if (!about) return go("home");
  const isMine = own.some((row) => row.chain === `form/${form}` && COLLECTING.includes(row.act));
  const waiting = new Set((await phone.store.inStates(["waiting"])).map((row) => row.data.sample ?? ""));
  const held = heldOf(about);
  const hasPictures = (await phone.pictures()).some((each) => each.form === form);
  const samples = [...about.samples.values()].map((each) => sampleLine(context, each, waiting.has(each.number)));
  const isWithout = lacksOutdoor(about, phone.brief?.policy);
  // Each only where there is something to sign, by whoever may.
  if (phone.may("collected")) context.typed((text) => nextByScan(context, form, text));
  const offered = (act, is, text, way) => (is && phone.may(act) ? link(text, `#${way}/${form}`) : null);
  return {
    title: words.visit,
    body: [
      el("p", {}, numberAt(grouped(form), about.site)),
      isWithout ? note("stop", about.ruledOut ? words.outdoorRuledOut(context.say(about.ruledOut, "reason")) : words.noOutdoor) : null,
      await running(words, phone, form),
      el("h2", {}, words.samples),
      samples.length ? el("ul", { class: "rows" }, ...samples) : el("p", { class: "soft" }, words.noSamples),
      el("nav", { class: "ways", "aria-label": words.more }, ...[
        offered("held", held.length, words.secure, "secure"),
        offered("collected", isMine, words.show, "show"),
        offered("voided", held.length, words.void, "void"),
        offered("outdoor_ruled_out", isWithout, words.ruleOut, "rule-out"),
        offered("conditions_read", true, words.readConditions, "conditions"),
        offered("surface_collected", true, words.takeSurface, "surface"),
        offered("building_changed", true, words.reportChange, "changed"),
        offered("requested", true, words.request, "request"),
        hasPictures ? link(words.pictures, `#pictures/${form}`) : null,
        offered("corrected", true, words.correct, "correct"),
        offered("excepted", true, words.allow, "allow"),
      ].filter(Boolean)),
    ],
    bar: [
      phone.may("collected") ? link(words.addCassette, `#cassette/${form}`, false) : null,
      held.length && phone.may("sealed") && !phone.may("collected") ? link(words.pack, "#pack/new", false) : null,
      offered("relinquished", held.length, words.give, "give"),
      link(words.home, "#home"),
    ],
  };
}

// The label of the next cassette opens its screen.
function nextByScan({ words, go }, form, text) {
  try {
    return go(`cassette/${form}/${readNumber(text, "sample")}`);
  } catch (error) {
    return void alarm(wrongNumber(words, error));
  }
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
  const drafted = ({ secured, where, place, note: text }) => {
    const data = { samples: heldOf(about).map((each) => each.number), secured, where, since: at(phone.now(), about.zone) };
    return { chain: `form/${form}`, act: "held", data, private: { place, note: text }, zone: about.zone };
  };
  const body = elements(fields);
  return signing(context, { title: words.secureTitle, fields, body, text: words.signHeld, drafted, then: `visit/${form}` });
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
  const drafted = async ({ note: text, ...data }) => {
    const findings = await phone.remarks({ act: "voided", data, form });
    if (findings.length && told !== JSON.stringify(data)) {
      told = JSON.stringify(data);
      remarks.replaceChildren(...findings.map((each) => note("warn", `${each.sentence} ${each.remedy}`)), el("p", {}, words.voidRemarks));
      return null;
    }
    return { chain: `form/${form}`, act: "voided", data, private: { note: text }, zone: about.zone };
  };
  const body = [el("p", {}, words.voidText), ...elements(fields), remarks];
  return signing(context, { title: words.void, fields, body, text: words.signVoided, drafted, then: `visit/${form}` });
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
  const drafted = ({ reason, place, note: text }) => {
    const data = { at: at(phone.now(), about.zone), reason };
    return { chain: `form/${form}`, act: "outdoor_ruled_out", data, private: { place, note: text }, zone: about.zone };
  };
  const body = [el("p", {}, words.ruleOutText), ...elements(fields)];
  return signing(context, { title: words.ruleOut, fields, body, text: words.signRuledOut, drafted, then: `visit/${form}` });
}
