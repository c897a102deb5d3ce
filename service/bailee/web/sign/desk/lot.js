// One box: numbers for its cassettes, their labels, and its recall with everybody who has to be told.

import { at, dayAt, zoneHere } from "../core/moments.js";
import { grouped, issue } from "../core/numbers.js";
import { Problem, Unreachable } from "../core/service.js";
import { el, note, number as printed } from "../parts/el.js";
import { ask, picks } from "../parts/fields.js";
import { alarm, button, link } from "../parts/frame.js";
import { code, count, day, free } from "../parts/kinds.js";
import { agreed } from "../parts/prepared.js";
import { elements, signing } from "../parts/signing.js";
import { read } from "./papers.js";
import { words as desk } from "./words.js";

const MOST_AT_ONCE = 200; // numbers in one statement
const ANYBODY = "";

export async function oneLot(context, lot) {
  const { words, phone, go } = context;
  const told = await asked(phone, `/lots/${lot}`);
  if (told.away) return { title: desk.lotTitle, body: [note("stop", told.away)], bar: [link(words.back, "#lots")] };
  await phone.store.told(`lot/${lot}`, told.length, told.head);
  const people = (phone.brief?.people ?? []).filter((each) => each.role === "inspector" && each.person);
  const named = new Map(people.map((each) => [each.kid, each.person]));
  const fields = {
    count: count(words, desk.howMany, { isOptional: false }),
    to: picks(words, desk.issuedTo, [ANYBODY, ...named.keys()], (kid) => named.get(kid) ?? desk.toAnybody, { value: ANYBODY }),
    visit: day(words, desk.forVisit),
  };
  const remarks = agreed(context, { not: desk.notIssued, again: desk.issueAgain });
  const sign = async () => {
    const said = ask(fields);
    if (!said?.count) return void (said && alarm(desk.howMany));
    if (await signIssued(context, lot, { ...said, to: said.to || null }, remarks)) await go(`lots/${lot}`);
  };
  const isPast = told.expires && told.expires < dayAt(phone.now(), zoneHere());
  const labels = (which) => read(phone, `/lots/${lot}/labels.pdf${which}`);
  return {
    title: desk.lotTitle,
    fields,
    body: [
      el("p", {}, printed(grouped(lot)), ` ${desk.lotLine(told, isPast)}`),
      told.recalled ? note("stop", desk.isRecalled) : isPast ? note("stop", desk.isExpired) : null,
      told.issued.length ? button(desk.printLabels(told.newest_issue.length), () => labels(""), { second: true }) : null,
      told.issued.length > told.newest_issue.length ? button(desk.printAllLabels(told.issued.length), () => labels("?issue=all"), { second: true }) : null,
      el("h2", {}, desk.issueTitle),
      ...elements(fields),
      remarks.element,
      link(told.recalled ? desk.toTell : desk.recall, `#recall/${lot}`),
    ],
    bar: [button(desk.signIssued, sign), link(words.back, "#lots")],
  };
}

// New numbers, where the rules let them be issued and whoever signs has read what is found: whether it was signed.
export async function signIssued(context, lot, { count: many, to = null, visit = null }, remarks) {
  const { phone } = context;
  const query = new URLSearchParams({ count: many, at: at(phone.now(), zoneHere()), ...(visit ? { visit } : {}) });
  const told = await asked(phone, `/lots/${lot}/issuing?${query}`);
  if (told.away) return void alarm(told.away);
  const findings = told.findings.map((each) => ({ acts: [], remedy: "", ...each }));
  if (!remarks.settled([many, to, visit], { ready: told.ready, findings })) return false;
  await phone.see(`lot/${lot}`);
  const fresh = [...new Set(Array.from({ length: many }, () => issue("sample")))];
  const parts = Array.from({ length: Math.ceil(fresh.length / MOST_AT_ONCE) }, (_, n) => fresh.slice(n * MOST_AT_ONCE, (n + 1) * MOST_AT_ONCE));
  const signed = await context.sign(...parts.map((samples) => ({ chain: `lot/${lot}`, act: "issued", data: { samples, to, visit } })));
  if (signed) await phone.sync(); // labels are printed of what the ledger knows
  return Boolean(signed);
}

// Who has samples of it is shown before it is signed, and afterwards to be told one by one.
export async function recall(context, lot) {
  const { words, phone } = context;
  const [told, uses] = await Promise.all([asked(phone, `/lots/${lot}`), asked(phone, `/lots/${lot}/uses`)]);
  const away = told.away ?? uses.away;
  if (away) return { title: desk.recall, body: [note("stop", away)], bar: [link(words.back, "#lots")] };
  await phone.store.told(`lot/${lot}`, told.length, told.head);
  const shown = [el("p", {}, printed(grouped(lot)), ` ${desk.lotLine(told, false)}`), ...toTell(uses, phone)];
  if (told.recalled) return { title: desk.toTell, body: [note("stop", desk.isRecalled), ...shown], bar: [link(words.back, `#lots/${lot}`)] };
  const fields = { reason: code(context, words.reason, "recalled", "reason"), note: free(words, words.note) };
  const drafted = ({ reason, note: text }) => ({ chain: `lot/${lot}`, act: "recalled", data: { reason }, private: { note: text } });
  const body = [el("p", {}, desk.recallText), ...elements(fields), ...shown];
  return signing({ ...context, go: async (where) => { await phone.sync(); await context.go(where); } }, { title: desk.recall, fields, body, text: desk.signRecalled, drafted, then: `recall/${lot}`, back: `lots/${lot}` });
}

function toTell({ uses, forms, envelopes, laboratories }, phone) {
  const unused = uses.length ? null : el("p", {}, desk.nobodyToTell);
  const rows = uses.map((each) => el("li", {}, printed(grouped(each.sample)),
    el("div", {}, desk.usedOn(grouped(each.form), each.envelopes.map(grouped).join(", "), each.laboratories.join(", "), each.child ? grouped(each.child) : ""))));
  return [
    el("h2", {}, desk.toTell),
    unused,
    uses.length ? el("p", {}, desk.toldAll(laboratories.join(", ") || desk.none, forms.length, envelopes.length)) : null,
    rows.length ? el("ul", { class: "rows" }, ...rows) : null,
    ...forms.map((each) => button(desk.notice(grouped(each)), () => read(phone, `/pages/forms/${each}`), { second: true })),
  ].filter(Boolean);
}

// Its answer, or {away}: why there is none.
async function asked(phone, path) {
  try {
    return (await phone.service.get(path)).told;
  } catch (error) {
    if (!(error instanceof Unreachable || error instanceof Problem)) throw error;
    return { away: error instanceof Problem ? error.message : desk.needsNetwork };
  }
}
