// The receiving dock: package, seal, samples, count, as they are found; what is on record is shown and compared only
// after all of it was read. Nothing is refused: a broken seal, a missing or a foreign sample is recorded as it is.

import { present } from "../core/facts.js";
import { at, dayAt, shownMoment as told, zoneHere } from "../core/moments.js";
import { BadNumber, grouped, kindOf, read as readNumber } from "../core/numbers.js";
import { el, note, number as printed } from "../parts/el.js";
import { ask, picks, refuse, several, yesNo } from "../parts/fields.js";
import { alarm, button, link, say as saying } from "../parts/frame.js";
import { degrees } from "../parts/air.js";
import { codesOf, count, label, wrongNumber } from "../parts/kinds.js";
import { lookedAt } from "../parts/looked_at.js";
import { scanner } from "../parts/scanner.js";
import { elements } from "../parts/signing.js";
import { differences } from "./differences.js";
import { undecided } from "./decision.js";
import { asExpected, keepExpected, nameOf } from "./expected.js";
import { whichEnvelope } from "./envelope_number.js";
import { asRead, sealScanned } from "./seals.js";
import { words as desk } from "./words.js";

const NOT_RECEIVED = "not received";
const FOREIGN = /^[A-Za-z0-9][A-Za-z0-9 ._/#+:-]{0,59}$/; // somebody else's number on a cassette

export async function dock(context, envelope) {
  if (envelope) return receiving(context, envelope);
  const { words, phone, when } = context;
  const [list, waiting] = await Promise.all([phone.kept("/chase"), undecided(phone)]);
  const due = (list?.told.items ?? []).filter((each) => each.kind === NOT_RECEIVED).toSorted((one, other) => (one.due < other.due ? -1 : 1));
  if (list?.isNow) keepExpected(context, due.map((each) => each.about));
  const today = dayAt(phone.now(), zoneHere());
  const isToday = ({ due: by }) => dayAt(Date.parse(by), zoneHere()) <= today;
  const more = [
    list?.isNow ? null : note("warn", list ? words.asOf(when(list.at)) : words.neverAsked),
    ...expected(desk.expectedToday, due.filter(isToday)),
    ...expected(desk.expectedLater, due.filter((each) => !isToday(each))),
    list && !due.length ? el("p", {}, desk.noneExpected) : null,
    waiting.length ? link(desk.toDecide(waiting.length), "#accept") : null,
  ];
  return whichEnvelope(context, { title: desk.dockTitle, text: desk.dockText, screen: "dock", more });
}

function expected(title, due) {
  const rows = due.map((each) => el("li", {}, el("a", { href: `#dock/${each.about}` }, printed(grouped(each.about)), el("span", {}, each.overdue ? desk.lateSince(told(each.due)) : desk.by(told(each.due))))));
  return rows.length ? [el("h2", {}, title), el("ul", { class: "rows" }, ...rows)] : [];
}

async function receiving(context, envelope) {
  const { words, phone, go } = context;
  const found = await asExpected(context, envelope);
  if (found.screen) return found.screen;
  const { record, forms, since } = found;
  const lies = lookedAt(context);
  const looked = questions(context, record);
  const typed = label(words, desk.scanEach, "sample", { hint: words.numberHint });
  const total = count(words, desk.counted, { isOptional: false });
  const { entered, scanned } = scans(words, forms, { typed, lies, seal: looked.seal });
  typed.input.addEventListener("change", () => typed.input.value.trim() && entered(typed.input.value));
  context.typed(scanned);
  // Whoever looked at all of it says so at once, and may change each; then it is counted.
  const allSound = () => {
    looked.package.put({ offered: ["sound"], chosen: ["sound"] });
    if (looked.seal.input.value.trim()) looked.seal_state.put("intact");
    looked.record_enclosed.put(true);
    lies.allIntact();
    total.focus();
  };
  const compared = comparing(context, record);
  const sign = async () => {
    const said = ask({ ...looked, total });
    if (!said) return;
    if (!said.package.length) return void missing(looked.package, desk.package, words);
    const read = lies.answer();
    if (!read) return;
    const { seal, seal_state: how, ...rest } = said;
    const dockRead = { envelope, ...rest, seal: seal?.toUpperCase() ?? null, seal_state: seal ? how : "missing", extra: [...lies.extra] };
    if (!compared.settled(dockRead, read)) return;
    const [first, ...others] = drafts(forms, dockRead, read, at(phone.now(), zoneHere()));
    if (await context.sign({ ...first, done: [nameOf(envelope)] }, ...others)) await go(since ? "signed" : `decide/${envelope}`);
  };
  return {
    title: desk.dockTitle,
    fields: { lies, ...looked, total },
    body: [
      el("p", {}, printed(grouped(envelope))),
      since ? note("warn", desk.dockAsOf(context.when(since))) : null,
      record.received ? note("warn", desk.receivedAlready(told(record.received.at))) : null,
      el("div", { class: "desk" },
        el("div", {}, ...elements(looked)),
        el("div", {}, scanner(words, scanned).element, typed.element, lies.element, button(desk.allSound, allSound, { second: true }), total.element, compared.element)),
    ],
    bar: [button(desk.signReceived, sign), link(desk.takeInstead, `#take-in/${envelope}`), link(words.back, "#dock")],
  };
}

// The envelope itself: package, seal, what is enclosed. Whether a seal is whole is asked once there is one.
function questions({ words, phone, say }, record) {
  const seal = asRead(words, desk.sealRead, { isOptional: true, hint: desk.sealReadHint });
  const states = codesOf(phone.vocabulary, "received", "dock.seal_state").filter((each) => each !== "missing");
  const state = picks(words, desk.sealState, states, (each) => say(each));
  seal.input.addEventListener("input", () => (state.element.hidden = !seal.input.value.trim()));
  state.element.hidden = true;
  return {
    package: several(words, desk.package, codesOf(phone.vocabulary, "received", "dock.package"), (each) => say(each)),
    seal,
    seal_state: state,
    record_enclosed: yesNo(words, desk.recordInside),
    ...(record.containers === null || record.received ? {} : { containers: count(words, desk.containers) }),
    temperature_c: degrees(words, desk.temperature),
  };
}

// What a scan is, wherever the focus is: a sample of these forms, or another one; a seal, as long as none was read; and
// else somebody else's number on a cassette.
function scans(words, forms, { typed, lies, seal }) {
  const isHere = (sample) => forms.some((form) => form.samples.some((each) => each.sample === sample));
  const entered = (text) => {
    typed.input.value = "";
    alarm("");
    try {
      const sample = readNumber(text, "sample");
      return void (isHere(sample) ? lies.add(sample) : lies.addForeign(sample));
    } catch (error) {
      if (!(error instanceof BadNumber)) throw error;
      const isForeign = FOREIGN.test(text.trim()) && !error.facts.found && !["check", "swapped"].includes(error.code);
      return void (isForeign ? lies.addForeign(text.trim()) : alarm(wrongNumber(words, error)));
    }
  };
  const scanned = (text) => {
    const found = sealScanned(text);
    const isSeal = found && (!seal.input.value.trim() || kindOf(found) === "seal");
    if (!isSeal) return entered(text);
    seal.put(found);
    return void saying(`${desk.sealRead}: ${found}`);
  };
  return { entered, scanned };
}

// What differs from what is on record is shown once; if it was read so, the same button signs it.
function comparing({ say }, record) {
  const element = el("div", { role: "alert" });
  let before = "";
  const settled = (dockRead, read) => {
    const unlike = differences(record, dockRead, read, say);
    const now = JSON.stringify([dockRead, [...read]]);
    if (!unlike.length || before === now) return true;
    before = now;
    const sentences = unlike.map(({ code, facts }) => note("warn", desk.unlike[code](facts)));
    const listed = record.samples.map((each) => el("li", {}, printed(grouped(each))));
    element.replaceChildren(el("h2", {}, desk.differences), ...sentences, el("h2", {}, desk.onRecord), el("ul", { class: "rows" }, ...listed));
    element.scrollIntoView({ block: "end" });
    return false;
  };
  return { element, settled };
}

function missing(field, name, words) {
  alarm(`${name}: ${words.choose}`);
  refuse(field);
}

// One statement for each form inside: what was found of it, and the envelope as the dock found it.
function drafts(forms, read, found, now) {
  const parts = forms.map((form) => ({ form, samples: form.samples.map((each) => each.sample).filter((each) => found.has(each)) }));
  return parts.map(({ form, samples }) => {
    const items = samples.map((sample) => ({ sample, condition: found.get(sample) }));
    const dock = present(read, ["seal", "package", "extra", "total", "record_enclosed"]);
    return { chain: `form/${form.form}`, act: "received", data: { items, count: samples.length, at: now, dock }, zone: form.zone };
  });
}
