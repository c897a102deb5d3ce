// What is surely a slip of the finger in what is about to be signed, as `bailee.asking.slips` says it: asked before the
// signature, on the phone as at a terminal. A slip is no finding; its sentence is in the table of words.

import { hectopascals } from "./air.js";
import { decimal, shown } from "./measures.js";
import { grouped, kindOf, labelNumber } from "./numbers.js";
import { COLLECTING } from "./visits.js";

const FEW_SECONDS = 30;
const LONG_RUN_S = 3600;
const TALLEST_M = "5";
const USUAL_FLOW = "15";
const TIMES_OFF = 4n;
const DAYS_AWAY = 60;
const DAYS_AHEAD = 1;
const DAY_MS = 24 * 3600 * 1000;
const AHEAD_MS = 5 * 60 * 1000;
const LONG_PAST_DAYS = 365;
const [HALF_A_DAY_MS, FAR_MS, NEAR_MS] = [12, 6, 2].map((hours) => hours * 3600 * 1000);
const INSTRUMENTS = ["pump", "meter"];
const OTHER_UNITS = [[18, 33, "inHg"], [60, 110, "kPa"]];
const TO_COME = ["expected", "expected_delivery", "expected_receipt", "until"];

// {code, member, facts} of each; `today` like 2026-12-01.
export function opened(said, today) {
  const found = [];
  if (said.parties.lab === said.parties.firm) found.push({ code: "own-firm-as-laboratory", member: "lab", facts: said.parties });
  const ahead = (Date.parse(said.visit) - Date.parse(today)) / DAY_MS;
  if (ahead > DAYS_AHEAD || -ahead > DAYS_AWAY) found.push({ code: "far-day", member: "visit", facts: { visit: said.visit, today } });
  return found;
}

// A laboratory that the ledger does not know; `near` are those that it does, null where nobody could be asked.
export const unknown = (lab, near) =>
  near === null || near.includes(lab) ? [] : [{ code: "unknown-organization", member: "lab", facts: { lab, near } }];

// A cassette that this phone collected before; it counts once.
export const again = (sample, rows) =>
  rows.some((row) => COLLECTING.includes(row.act) && row.data.sample === sample) ? [{ code: "collected-already", member: "sample", facts: {} }] : [];

// `day` of the visit, where it is known; `flow` that the lot is made for.
export function collected(said, day = null, flow = null) {
  return [...run(said), ...flows(said, flow ?? USUAL_FLOW), ...start(said, day), ...pressure(said), ...height(said), ...labels(said), ...pumpAsMeter(said)];
}

// Of these, what is known before the pump runs: asked then, when it can still be changed, and not again.
export const setUp = (said, flow = null) => collected({ ...said, run_s: null, flow_after: null }, null, flow);

export const afterRun = (said, day, flow) => {
  const asked = setUp(said, flow).map(({ member }) => member);
  return collected(said, day, flow).filter(({ member }) => !asked.includes(member));
};

// A pump whose run goes on, by what this phone keeps of runs not signed yet.
export const pumpRuns = ({ pump, sample }, drafts) =>
  drafts.filter((each) => pump && each.pump === pump && each.sample !== sample && each.started && !each.stopped)
    .map((each) => ({ code: "pump-in-two-places", member: "pump", facts: { pump, sample: grouped(each.sample) } }));

// Beside the other cassettes that this phone collected: the serial of another one; and of the same visit a point, or a room
// without one, that another one has, where this one is not called its duplicate; a point that would lie in two rooms.
export function beside(said, form, rows) {
  const others = rows.filter((row) => row.act === "collected" && row.data.sample !== said.sample);
  const isHere = ({ chain }) => chain === `form/${form}`;
  const serial = others.find((row) => said.serial && row.data.serial === said.serial && (isHere(row) || (row.data.lot ?? null) === (said.lot ?? null)));
  const points = said.kind === "blank" || said.duplicate_of ? [] : others.filter((row) => isHere(row) && row.data.kind !== "blank");
  const [point] = points.flatMap(({ data }) => atThePointOf(said, data));
  return [...(serial ? [{ code: "serial-twice", member: "serial", facts: { serial: said.serial, sample: grouped(serial.data.sample) } }] : []), ...(point ? [point] : [])];
}

function atThePointOf(said, other) {
  const [point, there] = [said, other].map((each) => (each.point ?? "").toLowerCase());
  const isIndoors = said.kind === "indoor" && other.kind === "indoor";
  const isElsewhere = placeOf(said) !== placeOf(other);
  if (point !== there || !(isIndoors || (point && isElsewhere))) return [];
  const code = point ? (isElsewhere ? "point-in-two-rooms" : "point-twice") : said.room && said.room === other.room ? "room-twice" : "";
  const facts = { point: said.point, sample: grouped(other.sample), here: placeOf(said), there: placeOf(other) };
  return code ? [{ code, member: "point", facts }] : [];
}

// Among the others of its visit: an instrument, or a serial, in another's place; a start half a day away from all of them.
export function among(said, form, rows) {
  const visit = rows.filter((row) => row.act === "collected" && row.chain === `form/${form}` && row.data.sample !== said.sample).map(({ data }) => data);
  return [...instruments(said, visit), ...serial(said, visit), ...halfADay(said, visit)];
}

const plain = (number) => (number ?? "").trim().toLowerCase();

function instruments(said, visit) {
  return [["meter", "pump"], ["pump", "meter"]].flatMap(([member, other]) => {
    const number = plain(said[member]);
    const found = number && number !== plain(said[other]) && visit.find((each) => plain(each[other]) === number);
    return found ? [{ code: `${other}-as-${member}`, member, facts: { number: said[member], member, other, sample: grouped(found.sample) } }] : [];
  });
}

function serial(said, visit) {
  const number = plain(said.serial);
  const member = number && INSTRUMENTS.find((each) => [said, ...visit].some((one) => plain(one[each]) === number));
  return member ? [{ code: "equipment-as-serial", member: "serial", facts: { serial: said.serial, member } }] : [];
}

function halfADay({ started }, visit) {
  const start = Date.parse(started);
  const others = visit.map((each) => Date.parse(each.started)).sort((one, other) => one - other);
  const away = (from) => Math.min(...others.map((each) => Math.abs(each - from)));
  const meant = away(start) >= FAR_MS && [start + HALF_A_DAY_MS, start - HALF_A_DAY_MS].find((each) => away(each) <= NEAR_MS);
  if (!meant) return [];
  const local = (ms) => new Date(ms - start + Date.parse(`${started.slice(0, 19)}Z`)).toISOString().slice(11, 16);
  const [at, other, first, to] = [start, meant, others[0], others.at(-1)].map(local);
  return [{ code: "half-a-day-off", member: "started", facts: { at, other, first, to } }];
}

const placeOf = ({ kind, room }) => (kind === "outdoor" ? kind : room ?? null);

// Client and address in each other's place, by those of visits that this phone opened, [{client, site}], or by the number
// of a house, with which an address begins.
export function swapped({ client, site }, known) {
  const bare = (text) => (text ?? "").toLowerCase().split(/\s+/).filter(Boolean).join(" ");
  const [clients, sites] = ["client", "site"].map((name) => new Set(known.map((each) => bare(each[name])).filter(Boolean)));
  const [one, other] = [bare(client), bare(site)];
  const isClient = clients.has(other) && !sites.has(other);
  const isSite = sites.has(one) && !clients.has(one);
  const byNumber = /^[0-9]+[a-z]? /.test(one) && other && !/[0-9]+[a-z]? /.test(other);
  return isClient || isSite || byNumber ? [{ code: "client-as-site", member: "site", facts: { client, site } }] : [];
}

// A label issued from a box of cassettes on a sample of a surface, or the reverse: through what is for surfaces no air is
// drawn. Without a flow no lot is known.
export const lotOfAnotherKind = (sample, flow, isSurface) =>
  flow === undefined || flow === null || (Number(flow) === 0) === isSurface ? [] : [{ code: "lot-of-another-kind", member: "sample", facts: { sample: grouped(sample), isSurface } }];

// A visit of which samples were sealed or shipped, by the brief.
export const visitClosed = ({ closed = [] }) =>
  closed.length ? [{ code: "visit-closed", member: "form", facts: { closed: closed.map(([envelope, status]) => [grouped(envelope), status]) } }] : [];

// A last day for a result that is over, or beyond every turnaround.
export function due({ due: day }, today) {
  const ahead = (Date.parse(day) - Date.parse(today)) / DAY_MS;
  return day && (ahead < 0 || ahead > LONG_PAST_DAYS) ? [{ code: "due-far-off", member: "due", facts: { due: day, today } }] : [];
}

// A moment ahead of this clock at which something would have been done; `member` is it by its whole name.
export const stillToCome = (member, at, now) =>
  !TO_COME.includes(member) && Date.parse(at) - now > AHEAD_MS ? [{ code: "still-to-come", member, facts: { at: at.slice(0, 16).replace("T", " ") } }] : [];

// An air pressure that is surely inches of mercury, or kilopascals.
export function pressure({ pressure_hpa: hpa }) {
  const found = hpa && OTHER_UNITS.find(([least, most]) => Number(hpa) >= least && Number(hpa) <= most);
  return found ? [{ code: "pressure-in-another-unit", member: "pressure_hpa", facts: { hpa, unit: found[2], meant: hectopascals(`${hpa} ${found[2]}`) } }] : [];
}

// A count by hand that is not the number of cassettes named.
export const counted = (count, named) =>
  count === null || count === named ? [] : [{ code: "count-differs", member: "count", facts: { count, named } }];

function run({ run_s: seconds, kind, short_run: short, pump_stop: stop, cavity }) {
  if (kind === "blank" || seconds === null) return [];
  if (seconds <= FEW_SECONDS && !short && !stop && !(seconds && cavity)) return [{ code: "run-of-seconds", member: "run_s", facts: { seconds } }];
  return seconds > LONG_RUN_S ? [{ code: "run-of-hours", member: "run_s", facts: { seconds } }] : [];
}

function flows(said, usual) {
  if (said.kind === "blank") return [];
  return ["flow_before", "flow_after"].filter((member) => said[member] && isFarOff(decimal(said[member]), decimal(usual)))
    .map((member) => ({ code: "flow-far-off", member, facts: { flow: said[member], usual: shown(decimal(usual)) } }));
}

// Both made whole by the same power of ten; a flow of nothing is no slip.
function isFarOff(flow, usual) {
  const one = flow.n * 10n ** BigInt(usual.places);
  const other = usual.n * 10n ** BigInt(flow.places);
  return one > 0n && (one * TIMES_OFF < other || one > other * TIMES_OFF);
}

function start({ started }, day) {
  if (!day) return [];
  const local = started.slice(0, 10);
  const next = new Date(Date.parse(day) + DAY_MS).toISOString().slice(0, 10);
  const isInTheNight = local === next && Number(started.slice(11, 13)) < 6;
  return local === day || isInTheNight ? [] : [{ code: "another-day", member: "started", facts: { started: local, day } }];
}

// The number of a label of ours where that of a pump, a meter or the maker's serial is entered.
function labels(said) {
  return ["pump", "meter", "serial"].flatMap((member) => {
    const number = said[member] && labelNumber(said[member]);
    return number ? [{ code: "label-as-equipment", member, facts: { number: grouped(number), kind: kindOf(number), member } }] : [];
  });
}

// One number for the pump and for the meter by which its flow was read.
export function pumpAsMeter({ pump, meter }) {
  return plain(pump) && plain(pump) === plain(meter) ? [{ code: "pump-as-meter", member: "meter", facts: { meter } }] : [];
}

function height({ height_m: meters }) {
  if (!meters) return [];
  const [one, most] = [decimal(meters), decimal(TALLEST_M)];
  return one.n * 10n ** BigInt(most.places) > most.n * 10n ** BigInt(one.places)
    ? [{ code: "far-up", member: "height_m", facts: { meters } }]
    : [];
}
