// Before the visit and after it: where to sample, whether the kit will do, what waits for somebody. From what the phone
// keeps, where no network is; nothing here is signed or sent.

import { check, neededOf, plan as planned } from "../core/kit.js";
import { dayAt, zoneHere } from "../core/moments.js";
import { grouped, kindOf, read as readNumber } from "../core/numbers.js";
import { Unreachable } from "../core/service.js";
import { lotOf, visits } from "../core/visits.js";
import { el, note } from "../parts/el.js";
import { ask, datalist, line, several } from "../parts/fields.js";
import { alarm, button, link, say as saying } from "../parts/frame.js";
import { code, count, decimal, label, matching, tag, wrongNumber } from "../parts/kinds.js";
import { scanner } from "../parts/scanner.js";

const SIGNS = ["visible_growth", "active_leak", "past_moisture", "complaint", "musty_odor", "asked_for"];
const today = (phone) => dayAt(phone.now(), zoneHere());
const nameOf = (about) => (kindOf(about) && about.length === 12 ? grouped(about) : about);

export async function chase(context) {
  const { words, phone } = context;
  const told = await phone.kept("/chase");
  const known = new Map(visits(await phone.said(), phone.brief, phone.device.kid).map((each) => [each.form, each.site]));
  const rows = (told?.told.items ?? []).map((each) => {
    const form = [each.about, ...each.acts.map((act) => act.form)].find((one) => known.has(one));
    const due = each.due.slice(0, 16).replace("T", " ");
    const said = [el("span", { class: "site" }, known.get(form) ?? ""), el("span", {}, each.sentence), el("span", {}, each.overdue ? words.overdue(due) : words.due(due))];
    return el("li", {}, form ? el("a", { href: `#visit/${form}` }, ...said) : el("div", { class: "both" }, ...said), el("p", { class: "soft" }, each.remedy));
  });
  return {
    title: words.chase,
    body: [
      told?.isNow ? null : note("warn", told ? words.asOf(context.when(told.at)) : words.neverAsked),
      told?.told.left_out ? note("warn", words.leftOut(told.told.left_out)) : null,
      rows.length ? el("ul", { class: "rows" }, ...rows) : told ? el("p", {}, words.nothingToChase) : null,
    ],
    bar: [link(words.home, "#home")],
  };
}

const planOf = async (phone) => (await phone.store.recall("plan")) ?? { places: [], wishes: {} };

export async function plan(context) {
  const { words, phone, go } = context;
  if (!phone.brief) return { title: words.planTitle, body: [note("warn", words.noBrief)], bar: [link(words.home, "#home")] };
  const kept = await planOf(phone);
  const found = planned(kept.places, phone.brief.policy, kept.wishes);
  const keep = async (changed) => {
    await phone.store.remember("plan", { ...kept, ...changed });
    await go("plan");
  };
  const reason = code(context, words.spaceReason, "collected", "space_reason", { isOptional: true });
  reason.element.hidden = true;
  const fields = {
    name: line(words, words.placeName, { read: matching(/^.{1,80}$/) }),
    signs: several(words, words.placeSigns, SIGNS, (each) => words.signs[each]),
    hours_a_day: decimal(words, words.placeHours),
    space: code(context, words.space, "collected", "space", { value: "conditioned", changed: (space) => (reason.element.hidden = space === "conditioned") }),
    reason,
  };
  const add = async () => {
    const said = ask(fields);
    if (!said) return;
    if (Number(said.hours_a_day ?? 0) > 24) return void alarm(words.wrongHours);
    const { name, signs, hours_a_day: hours, space, reason: why = null } = said;
    const place = { name, ...Object.fromEntries(signs.map((each) => [each, true])), hours_a_day: hours ?? "0", space, reason: why };
    await keep({ places: [...kept.places, place] });
  };
  const wishes = {
    indoor: count(words, words.wishIndoor, { value: kept.wishes.indoor ?? "" }),
    visit_h: decimal(words, words.wishHours, { value: kept.wishes.visit_h ?? "" }),
    blanks: count(words, words.wishBlanks, { value: kept.wishes.blanks ?? "" }),
    duplicates: count(words, words.wishDuplicates, { value: kept.wishes.duplicates ?? "" }),
    on_the_day: count(words, words.wishOnTheDay, { value: kept.wishes.on_the_day ?? "" }),
  };
  const wish = async () => {
    const said = ask(wishes);
    const given = said && Object.fromEntries(Object.entries(said).filter(([, each]) => each !== null));
    if (given) await keep({ wishes: given });
  };
  const rows = found.advice.map(({ place, role }, n) => el("li", {},
    el("strong", {}, `${n + 1} ${place.name}: ${words.roles[role]}`),
    el("p", { class: "soft" }, whyOf(context, place)),
    button(words.takeOut(place.name), () => keep({ places: kept.places.filter((each) => each !== place) }), { second: true })));
  return {
    title: words.planTitle,
    body: [
      el("p", { class: "soft" }, words.planText),
      rows.length ? el("ol", { class: "rows" }, ...rows) : el("p", {}, words.noPlaces),
      ...found.lacking.map((each) => note("warn", words.lacking[each.code](each))),
      ...found.notes.map((each) => el("p", {}, words.planNotes[each](phone.brief.policy))),
      el("p", {}, words.carry(found.cassettes, neededOf(found.cassettes) + found.cassettes.spare)),
      el("details", { open: !rows.length }, el("summary", {}, words.addPlace), ...Object.values(fields).map((each) => each.element), button(words.addThis, add)),
      el("details", {}, el("summary", {}, words.wishes), ...Object.values(wishes).map((each) => each.element), button(words.keep, wish)),
    ],
    bar: [link(words.kit, "#kit", false), link(words.home, "#home")],
  };
}

function whyOf({ words, say }, place) {
  const why = SIGNS.filter((each) => place[each]).map((each) => words.signs[each]);
  if (place.space !== "conditioned") why.push(say(place.space), place.reason ? say(place.reason) : words.noReason);
  if (Number(place.hours_a_day)) why.push(words.hoursThere(place.hours_a_day));
  return why.join(", ") || words.noSigns;
}

// The cassettes of the kit are kept until another one is begun.
export async function kit(context) {
  const { words, phone, go } = context;
  if (!phone.brief) return { title: words.kitTitle, body: [note("warn", words.noBrief)], bar: [link(words.home, "#home")] };
  const kept = (await phone.store.recall("kit")) ?? { scans: {} };
  const scans = new Map(Object.entries(kept.scans));
  const list = el("ul", { class: "rows" });
  const draw = () => list.replaceChildren(...[...scans].map(([number, n]) => el("li", {}, el("span", { class: "number" }, grouped(number)), n > 1 ? ` ${words.times(n)}` : "")));
  const ids = (kind) => datalist(phone.brief.instruments.filter((each) => each.kind === kind).map((each) => each.id));
  const typed = label(words, words.number, "sample", { isOptional: true, hint: words.numberHint });
  const fields = {
    on: line(words, words.visitDay, { value: kept.on ?? today(phone), read: matching(/^\d{4}-\d\d-\d\d$/), wrong: () => words.wrongDay }),
    pump: tag(words, words.pump, { value: kept.pump ?? "", list: ids("pump") }),
    meter: tag(words, words.meter, { value: kept.meter ?? "", list: ids("meter") }),
  };
  const told = el("div", { role: "status" });
  const keep = (more = {}) => phone.store.remember("kit", { ...kept, ...more, scans: Object.fromEntries(scans) });
  const scanned = async (text) => {
    try {
      const number = readNumber(text, "sample");
      scans.set(number, (scans.get(number) ?? 0) + 1);
      typed.input.value = "";
      alarm("");
      draw();
      saying(words.inKit(scans.size));
      told.replaceChildren();
      await keep();
    } catch (error) {
      alarm(wrongNumber(words, error));
    }
  };
  typed.input.addEventListener("change", () => typed.input.value.trim() && scanned(typed.input.value));
  context.typed(scanned);
  const look = async () => {
    const said = ask(fields);
    if (!said) return;
    await keep(said);
    const { places, wishes } = await planOf(phone);
    const wanted = planned(places, phone.brief.policy, wishes).cassettes;
    const carried = await Promise.all([...scans].map(([number, n]) => carriedOf(phone, number, n)));
    const instruments = await Promise.all(["pump", "meter"].filter((kind) => said[kind]).map((kind) => instrumentOf(context, kind, said[kind], said.on)));
    told.replaceChildren(...answer(words, check(carried, instruments, said.on, wanted, phone.brief.policy), said.on));
    told.scrollIntoView({ block: "start" });
  };
  const anew = async () => {
    await phone.store.forget("kit");
    await go("kit");
  };
  draw();
  return {
    title: words.kitTitle,
    body: [el("p", {}, words.kitText), scanner(words, scanned).element, typed.element, list, scans.size ? button(words.kitAnew, anew, { second: true }) : null, ...Object.values(fields).map((each) => each.element), told],
    bar: [button(words.checkKit, look), link(words.home, "#home")],
  };
}

function answer(words, { findings, good, unchecked }, on) {
  const isBad = findings.some((each) => each.severity === "block");
  const verdict = isBad ? note("stop", words.kitNot(on)) : unchecked.length ? note("warn", words.kitUnchecked(on)) : note("good", words.kitReady(on, good));
  const kinds = { block: "stop", warn: "warn", note: "" };
  return [
    verdict,
    ...findings.map(({ severity, about, code: found, facts, rule }) => note(kinds[severity], `${words.kitFindings[found](nameOf(about), facts)}${rule ? ` (${rule})` : ""}`)),
    ...unchecked.map(({ code: found, numbers = [], id }) => el("p", {}, words.kitUnknown[found](numbers.map(grouped).join(", ") || id))),
  ];
}

// What the service knows of a number, or else what this phone keeps of its lot.
async function carriedOf(phone, number, scans) {
  const lot = lotOf(phone.brief, number);
  try {
    const { told } = await phone.service.get(`/samples/${number}`);
    const { yours = null, visit = null } = told.issued ?? {};
    return { number, lot: told.lot, scans, isLookedUp: true, isUsed: told.form !== null, isMine: yours, visit };
  } catch (error) {
    if (!(error instanceof Unreachable) && error.status !== 404) throw error;
    return { number, lot: error.status === 404 ? null : lot, scans, isLookedUp: error.status === 404, isUsed: false, isMine: null, visit: null };
  }
}

async function instrumentOf({ words, phone }, kind, id, on) {
  const known = phone.brief.instruments.find((each) => each.kind === kind && each.id === id)?.valid_to;
  const kept = known ? (known < on ? words.wasValidTo(known) : "") : null;
  const asked = `/certificate?kind=${kind}&id=${encodeURIComponent(id)}&on=${on}`;
  const whyNot = await phone.service.get(asked).then((found) => found.told.expired, (error) => (error instanceof Unreachable ? kept : null));
  return { kind, id, whyNot };
}
