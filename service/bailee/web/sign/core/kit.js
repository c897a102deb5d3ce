// Whether a kit will do, and where to sample: as `bailee.rules.checks.kit` and `bailee.planning.sampling_plan` reckon it,
// in codes. The sentences are in the table of words.

const COMPARABLE = 2; // Fewest places indoors that can be compared with each other.
const GRAVEST = ["block", "warn", "note"];
const OF_SURFACES = ["tape", "swab", "contact_plate", "container"]; // No cassettes, and not counted as such.
const DAY_MS = 24 * 3600 * 1000;

const daysTo = (last, on) => Math.round((Date.parse(last) - Date.parse(on)) / DAY_MS);
const by = (...keys) => (one, other) => keys.reduce((found, key) => found || (key(one) < key(other) ? -1 : Number(key(one) > key(other))), 0);

// `carried` are {number, lot: {lot, expires, recalled, cassette} or null, scans, isLookedUp, isUsed, isMine, visit}; `instruments`
// {kind, id, whyNot: "" or a sentence, null where it could not be looked up}; `on` the day, `wanted` from `cassettes`.
export function check(carried, instruments, on, wanted, policy) {
  const found = carried.flatMap((each) => ofCassette(each, on, policy).concat(ofNumber(each, on)));
  const bad = new Set(found.filter((each) => each.severity === "block").map((each) => each.about));
  const good = carried.filter((each) => !bad.has(each.number) && isCassette(each)).length;
  found.push(...ofLots(carried, on, policy), ...ofCount(good, wanted), ...instruments.flatMap((each) => ofInstrument(each, policy)));
  found.sort(by((each) => GRAVEST.indexOf(each.severity), (each) => each.rule, (each) => each.about));
  return { findings: found, good, unchecked: unchecked(carried, instruments) };
}

const isCassette = ({ lot }) => !OF_SURFACES.includes(lot?.cassette);

const finding = (rule, severity, about, code, facts = {}) => ({ rule, severity, about, code, facts });

function ofCassette({ number, lot, isLookedUp }, on, policy) {
  if (!lot) return isLookedUp ? [finding("ML-01", "block", number, "never-issued")] : [];
  const recalled = lot.recalled ? [finding("ML-06", "block", number, "recalled", lot)] : [];
  if (!lot.expires && lot.cassette === "container") return recalled; // None is printed on it.
  if (!lot.expires) return [finding("ML-03", "block", number, "no-date", lot), ...recalled];
  const isOver = daysTo(lot.expires, on) + policy.expiry_grace_days < 0;
  return isOver ? [finding("ML-02", "block", number, "expired", lot), ...recalled] : recalled;
}

function ofNumber({ number, isUsed, scans, isMine, visit }, on) {
  const found = [];
  if (isUsed) found.push(finding("CL-01", "block", number, "used"));
  else if (scans > 1) found.push(finding("CL-01", "warn", number, "twice", { scans }));
  if (isMine === false) found.push(finding("CL-12", "warn", number, "not-yours"));
  if (visit && visit !== on) found.push(finding("", "note", number, "other-visit", { visit }));
  return found;
}

function ofLots(carried, on, policy) {
  const lots = new Map(carried.filter((each) => each.lot).map(({ lot }) => [lot.lot, lot]));
  const ofAir = [...new Set(carried.filter((each) => each.lot && isCassette(each)).map(({ lot }) => lot.lot))];
  const found = ofAir.length > 1 && policy.same_lot_wanted ? [finding("ML-11", "warn", "kit", "several-lots", { lots: ofAir })] : [];
  for (const lot of lots.values()) {
    const left = lot.expires ? daysTo(lot.expires, on) : -1;
    if (left >= 0 && left <= policy.expiry_near_days) found.push(finding("ML-05", "note", lot.lot, "near-date", { ...lot, left }));
  }
  return found;
}

function ofCount(good, wanted) {
  const needed = neededOf(wanted);
  const facts = { good, needed, spare: wanted.spare };
  if (good < needed) return [finding("VP-09", "block", "kit", "too-few", facts)];
  return good < needed + wanted.spare ? [finding("VP-09", "note", "kit", "no-spare", facts)] : [];
}

function ofInstrument({ kind, id, whyNot }, policy) {
  if (!whyNot) return [];
  return [finding("PV-06", kind === "meter" && policy.meter_certificate_block ? "block" : "warn", id, kind, { whyNot })];
}

function unchecked(carried, instruments) {
  const left = carried.filter((each) => !each.isLookedUp);
  const numbers = (each) => each.map(({ number }) => number);
  const [known, unknown] = [left.filter((each) => each.lot), left.filter((each) => !each.lot)];
  const found = [];
  if (known.length) found.push({ code: "remembered", numbers: numbers(known) });
  if (unknown.length) found.push({ code: "unknown", numbers: numbers(unknown) });
  for (const kind of ["meter", "pump"]) {
    const one = instruments.findLast((each) => each.kind === kind);
    if (!one) found.push({ code: `no-${kind}` });
    else if (one.whyNot === null) found.push({ code: "no-certificate", id: one.id });
  }
  return found;
}

export const neededOf = ({ indoor, outdoor, blanks, duplicates }) => indoor + outdoor + blanks + duplicates;

// What to carry for so many places indoors. `wishes` are {indoor, visit_h, blanks, duplicates, on_the_day}.
export function cassettes(indoor, policy, { visit_h: hours, blanks = 0, duplicates = 0, on_the_day: later = 0 }) {
  const outdoor = Math.max(policy.min_outdoor, isLong(policy, hours) ? 2 : 1);
  const inside = Math.max(indoor, policy.min_indoor, COMPARABLE, policy.min_cassettes - outdoor);
  const wanted = blanksWanted(inside + outdoor + duplicates, policy);
  return { indoor: inside, outdoor, blanks: Math.max(blanks, wanted), duplicates, spare: policy.spare_cassettes + later };
}

function blanksWanted(air, { min_blanks: least, samples_per_blank: served }) {
  if (!least) return 0;
  return Math.max(least, served ? Math.ceil(air / served) : 0);
}

const isLong = (policy, hours) => Number(hours ?? 0) > Number(policy.long_visit_h);

const signsOf = (place) => [place.visible_growth || place.active_leak, place.past_moisture, place.complaint, place.musty_odor, place.asked_for].map(Boolean);
const isOpen = (place) => place.space === "conditioned" || Boolean(place.reason || place.asked_for);
const isReference = (place) => place.space === "conditioned" && !signsOf(place).includes(true);

// Places in order of advice with their role; `lacking` and `notes` are codes.
export function plan(places, policy, wishes = {}) {
  const rank = (place) => [isOpen(place), ...signsOf(place)].map(Number).concat(Number(place.hours_a_day ?? 0));
  const keys = [0, 1, 2, 3, 4, 5, 6].map((i) => (place) => -rank(place)[i]);
  const order = places.toSorted(by(...keys));
  const taken = chosen(order, policy, wishes);
  const advice = order.map((place, n) => ({ place, role: roleOf(place, taken.has(n)) }));
  const references = order.filter((place, n) => taken.has(n) && isReference(place)).length;
  const [least, wanted] = [Math.max(policy.min_indoor, COMPARABLE), Math.max(policy.min_reference, 1)];
  const lacking = [];
  if (taken.size < least) lacking.push({ code: "few-places", found: taken.size, least });
  if (references < wanted) lacking.push({ code: "no-reference", found: references, least: wanted });
  const isUnasked = order.length && !order.some((place, n) => taken.has(n) && signsOf(place).includes(true));
  const notes = [isUnasked ? "no-sign" : "", "outdoor", "middle", wishes.on_the_day ? "on-the-day" : "", isLong(policy, wishes.visit_h) ? "long-visit" : ""].filter(Boolean);
  return { advice, lacking, notes, cassettes: cassettes(taken.size, policy, wishes) };
}

function roleOf(place, isTaken) {
  if (!isOpen(place)) return "left out";
  return isTaken ? (isReference(place) ? "reference" : "in question") : "not now";
}

// What is in question from the top, what the client asks for in any case, room kept for references, the rest filled where people are.
function chosen(order, policy, { indoor = null }) {
  const can = order.map((_, n) => n).filter((n) => isOpen(order[n]));
  const questioned = can.filter((n) => !isReference(order[n]));
  const references = can.filter((n) => isReference(order[n]));
  const kept = Math.min(references.length, Math.max(policy.min_reference, 1));
  const least = Math.max(policy.min_indoor, COMPARABLE, 1 + kept);
  const most = Math.max(indoor ?? questioned.length + kept, least);
  const first = questioned.filter((n, place) => place < most - kept || order[n].asked_for);
  return new Set([...first, ...references.slice(0, Math.max(most - first.length, kept))]);
}
