// Opening hours and closed days: of a laboratory's dock, of the own office, of a carrier. Monday to Friday and the federal
// holidays stand there to begin with, and are nobody's promise; what is in force stands there where there is some.

import { present } from "../core/facts.js";
import { dayAt, isZone, zoneHere } from "../core/moments.js";
import { Problem, Unreachable } from "../core/service.js";
import { el, note, numberAt } from "../parts/el.js";
import { ask, folded, line, picks, yesNo } from "../parts/fields.js";
import { alarm, button, link } from "../parts/frame.js";
import { matching, tag } from "../parts/kinds.js";
import { elements } from "../parts/signing.js";
import { grouped } from "../core/numbers.js";
import { visits } from "../core/visits.js";
import { words as desk } from "./words.js";

const WHICH = ["lab", "office", "carrier"];
const DAYS = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];
const FEDERAL = "us-federal";
const USUAL = { lab: "08:00-17:00", office: "08:00-17:00", carrier: "00:00-24:00" };
const SPANS = /^(\d\d:\d\d-\d\d:\d\d(,? +|$))*$/;
const TIME = /^([01]\d|2[0-3]):[0-5]\d$/;

export async function hours(context, which) {
  const { words, phone } = context;
  const told = await inForce(phone);
  if (told.away) return { title: words.hours, body: [note("stop", told.away)], bar: [link(words.home, "#home")] };
  const [kind, name = null] = decodeURIComponent(which).split("/");
  if (WHICH.includes(kind)) return setting(context, kind, name, told);
  const own = phone.may("accepted") ? "lab" : phone.may("shipped") ? "carrier" : null;
  if (own && !which && !Object.keys(told.calendars).length) return setting(context, own, null, told, "home");
  const known = Object.keys(told.calendars).map((each) => el("li", {}, el("a", { href: `#hours/${encodeURIComponent(each)}` }, desk.calendarOf(each))));
  return {
    title: words.hours,
    body: [
      el("p", {}, desk.hoursText),
      known.length ? el("ul", { class: "rows" }, ...known) : el("p", {}, desk.noCalendar),
      el("div", { class: "ways" }, ...WHICH.filter((each) => each === "carrier" || !told.calendars[each]).map((each) => link(desk.setHours[each], `#hours/${each}`))),
    ],
    bar: [link(words.home, "#home")],
  };
}

// The own organization as the ledger has it now, or why that cannot be had.
export async function inForce(phone) {
  try {
    return (await phone.service.get(`/organizations/${phone.device.org}`)).told;
  } catch (error) {
    if (!(error instanceof Unreachable || error instanceof Problem)) throw error;
    return { away: error instanceof Problem ? error.message : desk.needsNetwork };
  }
}

function setting(context, which, carrier, { calendars, carrier_times: times }, back = "hours") {
  const { words, phone, go } = context;
  const key = carrier ? `${which}/${carrier}` : which;
  const year = Number(dayAt(phone.now(), zoneHere()).slice(0, 4));
  const fresh = { zone: zoneHere(), years: [year, year + 1], closed: [FEDERAL], hours: Object.fromEntries(DAYS.slice(0, 5).map((each) => [each, [USUAL[which]]])) };
  const now = calendars[key] ?? fresh;
  const clock = (label, value) => line(words, label, { value: value ?? "", isOptional: true, read: matching(TIME), wrong: () => desk.wrongClock });
  const days = Object.fromEntries(DAYS.map((each) => [each, line(words, desk.days7[each], {
    value: (now.hours[each] ?? []).join(" "), isOptional: true, read: spans, wrong: () => desk.wrongSpans,
  })]));
  const fields = {
    ...(which === "carrier" ? {
      carrier: tag(words, desk.carrier, { isOptional: false, value: carrier ?? "" }),
      cutoff: clock(desk.cutoff, times[key]?.cutoff),
      delivery: clock(desk.delivery, times[key]?.delivery),
    } : {}),
    zone: line(words, desk.zoneOf, { value: now.zone, read: zoneOf, wrong: () => words.zoneWrong }),
    federal: yesNo(words, desk.federal, { value: now.closed.includes(FEDERAL) }),
    closed: line(words, desk.closedToo, { value: now.closed.filter((each) => each !== FEDERAL).join(" "), isOptional: true, hint: desk.closedHint, read: listOf(/^\d{4}-\d\d-\d\d$/), wrong: () => words.wrongDay }),
    years: line(words, desk.years, { value: now.years.join(" "), read: listOf(/^\d{4}$/), wrong: () => desk.wrongYears }),
  };
  const effect = el("div", { role: "alert" });
  let before = "";
  const sign = async () => {
    const said = ask({ ...fields, ...days });
    if (!said) return;
    const calendar = { zone: said.zone, years: said.years.map(Number), closed: [...(said.federal ? [FEDERAL] : []), ...(said.closed ?? [])], hours: Object.fromEntries(DAYS.filter((each) => said[each]).map((each) => [each, said[each]])) };
    const data = present({ which, carrier: said.carrier ?? null, cutoff: said.cutoff ?? null, delivery: said.delivery ?? null, calendar });
    const mine = said.carrier ? `${which}/${said.carrier}` : which;
    const there = calendars[mine];
    const told = JSON.stringify(data);
    if (there && before !== told) {
      before = told;
      effect.replaceChildren(...unlike(there, calendar), ...(await underWay(context)), el("p", {}, desk.changeAgain));
      return void effect.scrollIntoView({ block: "end" });
    }
    await phone.see(`org/${phone.device.org}`);
    if (await context.sign({ chain: `org/${phone.device.org}`, act: "calendar_set", data })) await go("signed");
  };
  return {
    title: desk.setHours[which],
    fields: { ...fields, ...days },
    body: [
      el("p", {}, calendars[key] ? desk.inForceNow : desk.toBegin),
      el("div", { class: "desk" }, el("div", {}, ...elements(fields)), el("section", { "aria-label": desk.openOn }, el("h2", {}, desk.openOn), el("p", { class: "soft" }, desk.openOnText), ...elements(days), effect)),
    ],
    bar: [button(desk.signHours, sign), link(words.back, `#${back}`)],
  };
}

const zoneOf = (text) => {
  if (!isZone(text)) throw new Error("zone");
  return text;
};
const listOf = (pattern) => (text) => text.split(/[ ,]+/).filter(Boolean).map(matching(pattern));
const spans = (text) => matching(SPANS)(text).split(/[ ,]+/).filter(Boolean);

// Day by day what was, and what would be.
function unlike(before, after) {
  const shown = (calendar, day) => (calendar.hours[day] ?? []).join(" ") || desk.isClosed;
  const rows = DAYS.filter((each) => shown(before, each) !== shown(after, each)).map((each) => desk.wasNow(desk.days7[each], shown(before, each), shown(after, each)));
  const rest = [["zone", desk.zoneOf], ["closed", desk.closedDays], ["years", desk.years]].filter(([each]) => String(before[each]) !== String(after[each]));
  const all = [...rows, ...rest.map(([each, title]) => desk.wasNow(title, String(before[each]), String(after[each])))];
  return all.length ? all.map((each) => note("warn", each)) : [note("warn", desk.noChange)];
}

// The visits under way, which are judged and planned by it from then on.
export async function underWay({ phone }) {
  const under = visits(await phone.said(), phone.brief, phone.device.kid);
  if (!under.length) return [el("p", {}, desk.noneUnderWay)];
  return [el("h2", {}, desk.counts), el("ul", { class: "rows" }, ...under.map((each) => el("li", {}, numberAt(grouped(each.form), each.site))))];
}
