// What a laboratory decides about: which samples are open, what was found of their forms, and what is signed of them.

import { present } from "../core/facts.js";
import { at, zoneHere } from "../core/moments.js";
import { readiness } from "../parts/prepared.js";
import { following } from "./following.js";

const OPEN = ["received", "on_hold"];
const GRAVE = ["block", "refuse", "flag"];
const DECIDED = ["accepted", "on_hold", "rejected"];
const MOST_MS = 3 * 24 * 3600 * 1000;

// Samples in an envelope that were received, or are on hold, each with its form.
export const openIn = (envelope, forms) => forms.flatMap((form) =>
  form.samples.filter((each) => each.envelope === envelope && OPEN.includes(each.status) && !each.void).map((each) => ({ ...each, form })));

export const graveIn = (forms) => forms.flatMap((form) => form.findings.filter((each) => !each.excepted && GRAVE.includes(each.severity)));

// Envelopes that were received on this device these days, and of which it has decided nothing: the oldest first.
export async function undecided(phone) {
  const rows = (await phone.said()).filter((row) => phone.now() - row.signed < MOST_MS);
  const decided = new Set(rows.filter((row) => DECIDED.includes(row.act)).flatMap((row) => row.data.samples));
  const opened = rows.filter((row) => row.act === "received" && row.data.dock && row.data.items.some(({ sample }) => !decided.has(sample)));
  return [...new Set(opened.map((row) => row.data.dock.envelope))];
}

// One statement for each form: `said` is {samples, decision, reasons, resample, first}. The laboratory's own numbers are
// counted up from the first one in the order of the samples.
export function drafts(phone, forms, { samples, decision, reasons = null, resample = null, first = null }) {
  const numbers = first ? following(first, samples.length) : [];
  const own = Object.fromEntries(samples.map((each, n) => [each, numbers[n]]).filter(([, each]) => each));
  const parts = forms.map((form) => ({ form, mine: samples.filter((each) => form.samples.some((one) => one.sample === each)) }));
  return parts.filter(({ mine }) => mine.length).map(({ form, mine }) => {
    const lab = Object.fromEntries(mine.filter((each) => own[each]).map((each) => [each, own[each]]));
    const data = { samples: mine, at: at(phone.now(), zoneHere()), reasons: reasons ?? [], resample, lab_numbers: Object.keys(lab).length ? lab : null };
    return { chain: `form/${form.form}`, act: decision, data: present(data), zone: form.zone };
  });
}

// What stops one of them, by the ledger; null where it gave no answer, once that is said.
export async function stopsOf(phone, made) {
  for (const { act, data } of made) {
    const answer = await readiness(phone, act, data);
    if (!answer) return null;
    const stops = answer.findings.filter((each) => each.severity === "block");
    if (stops.length) return stops;
  }
  return [];
}
