// The visits under way as this device knows them: what it said itself, and what the brief tells. It judges nothing:
// only the service knows what others said.

import { toldIn } from "./statement.js";

// The addresses that this device was told of its own visits, by form: no other knows them.
export function sitesIn(rows) {
  const opened = rows.filter((row) => row.act === "opened" && row.disclosures?.length);
  return new Map(opened.map((row) => [row.chain.slice("form/".length), toldIn(row.disclosures).site ?? ""]));
}

// By form: {form, zone, lab, day, site, ruledOut: why no outdoor control can be collected, samples: Map of number →
// {number, kind, held, due}, closed: [envelope, status] of each that is closed up}; newest first. What the brief knows it knows better; own words count that it cannot know yet.
export function visits(rows, brief, kid) {
  const found = new Map();
  const lengths = new Map((brief?.forms ?? []).map((each) => [each.form, each.length]));
  for (const told of brief?.forms.toReversed() ?? []) found.set(told.form, asTold(told, kid));
  const own = rows.filter((row) => row.chain.startsWith("form/"));
  const fresh = new Set(own.filter((row) => isNewer(row, brief)).map((row) => row.chain));
  for (const row of own) {
    const known = lengths.get(row.chain.slice("form/".length));
    const isUnknown = known === undefined || row.state === "waiting" || row.answer?.n > known;
    if (isUnknown && (known !== undefined || fresh.has(row.chain))) said(found, row);
  }
  const sites = sitesIn(rows);
  return [...found.values()].filter((each) => each.zone).map((each) => ({ ...each, site: sites.get(each.form) ?? "" })).reverse();
}

const isNewer = (row, brief) => row.state === "waiting" || !brief || row.signed >= brief.at;

function asTold({ form, zone, lab, visit: day, outdoor_ruled_out: ruledOut, samples }, kid) {
  const each = samples.map(({ sample, kind, holder, given_to: to }) => [sample, { number: sample, kind, held: holder === kid, due: [kid, ""].includes(to) }]);
  const closed = new Map(samples.filter((one) => one.envelope).map((one) => [one.envelope, one.status]));
  return { form, zone, lab, day, ruledOut, samples: new Map(each), closed: [...closed] };
}

function said(found, row) {
  const number = row.chain.slice("form/".length);
  const visit = found.get(number) ?? { form: number, zone: row.zone ?? null, lab: null, samples: new Map() };
  found.set(number, visit);
  const { data } = row;
  switch (row.act) {
    case "opened":
      Object.assign(visit, { zone: data.zone, lab: data.parties.lab, day: data.visit });
      break;
    case "collected":
      visit.samples.set(data.sample, { number: data.sample, kind: data.kind, held: true });
      break;
    case "surface_collected":
      visit.samples.set(data.sample, { number: data.sample, kind: data.medium, held: true });
      break;
    case "relinquished":
      for (const each of data.samples) hold(visit, each, false);
      break;
    case "received":
      for (const each of data.items) hold(visit, each.sample, true);
      break;
    case "outdoor_ruled_out":
      visit.ruledOut = data.reason;
      break;
    case "voided":
      visit.samples.delete(data.sample);
      break;
    default:
  }
}

function hold(visit, number, held) {
  visit.samples.set(number, { number, kind: null, ...visit.samples.get(number), held, due: false });
}

// Acts with which custody of a sample begins.
export const COLLECTING = ["collected", "surface_collected"];

const DAY_MS = 24 * 3600 * 1000;

// Whether the rules would miss an outdoor control (OC-01) as far as this device knows: there are indoor samples, and none
// of which it does not know the kind. More than one may be wanted; only the service says so.
export function lacksOutdoor(visit, policy) {
  const kinds = [...visit.samples.values()].map((each) => each.kind);
  return policy?.min_outdoor !== 0 && kinds.includes("indoor") && !kinds.includes("outdoor") && !kinds.includes(null);
}

// Those that were relinquished to this key, or to anybody of its organization, and that nobody has received yet.
export const dueOf = (visit) => [...visit.samples.values()].filter((each) => each.due && !each.held).map((each) => each.number);

export const heldOf = (visit) => [...visit.samples.values()].filter((each) => each.held);

// The lot of a cassette by the brief: the newest that issued its number.
export const lotOf = (brief, number) => brief?.lots.find((each) => each.issued.includes(number)) ?? null;

export const lotNamed = (brief, lot) => brief?.lots.find((each) => each.lot === lot) ?? null;

// How a lot stands on a day (YYYY-MM-DD) under the firm's own grace, the gravest first: {state, usableTo}.
export function stateOfLot({ recalled, expires }, day, graceDays = 0) {
  const usableTo = expires && new Date(Date.parse(expires) + graceDays * DAY_MS).toISOString().slice(0, 10);
  if (recalled) return { state: "recalled", usableTo };
  if (!expires) return { state: "undated", usableTo };
  if (expires >= day) return { state: "not expired", usableTo };
  return { state: usableTo >= day ? "in grace" : "expired", usableTo };
}
