// The receiving dock: package, seal, samples, count, as they are found; what is on record is shown and compared only
// after all of it was read. Nothing is refused: a broken seal, a missing or a foreign sample is recorded as it is.

import { present } from "../core/facts.js";
import { at, shownMoment as told, zoneHere } from "../core/moments.js";
import { BadNumber, grouped, read as readNumber } from "../core/numbers.js";
import { el, note, number as printed } from "../parts/el.js";
import { ask, picks, several, yesNo } from "../parts/fields.js";
import { alarm, button, link } from "../parts/frame.js";
import { degrees } from "../parts/air.js";
import { codesOf, count, label, asRead, wrongNumber } from "../parts/kinds.js";
import { onRecord } from "../parts/on_record.js";
import { scanner } from "../parts/scanner.js";
import { elements } from "../parts/signing.js";
import { differences } from "./differences.js";
import { inside } from "./inside.js";
import { whichEnvelope } from "./envelope_number.js";
import { words as desk } from "./words.js";

const NOT_RECEIVED = "not received";
const FOREIGN = /^[A-Za-z0-9][A-Za-z0-9 ._/#+:-]{0,59}$/; // somebody else's number on a cassette

export async function dock(context, envelope) {
  if (envelope) return receiving(context, envelope);
  const list = await context.phone.kept("/chase");
  const due = (list?.told.items ?? []).filter((each) => each.kind === NOT_RECEIVED).toSorted((one, other) => (one.due < other.due ? -1 : 1));
  const rows = due.map((each) => el("li", {}, el("a", { href: `#dock/${each.about}` }, printed(grouped(each.about)), el("span", {}, desk.by(told(each.due))))));
  const more = [
    el("h2", {}, desk.expected),
    list?.isNow ? null : note("warn", list ? context.words.asOf(context.when(list.at)) : context.words.neverAsked),
    rows.length ? el("ul", { class: "rows" }, ...rows) : list ? el("p", {}, desk.noneExpected) : null,
  ];
  return whichEnvelope(context, { title: desk.dockTitle, text: desk.dockText, screen: "dock", more });
}

async function receiving(context, envelope) {
  const { words, phone, go, say } = context;
  const found = await onRecord(context, envelope, { title: desk.dockTitle, back: "dock", without: desk.dockNoNetwork });
  if (found.screen) return found.screen;
  const { record, forms } = found;
  const onForm = new Map(forms.flatMap((form) => form.samples.map((each) => [each.sample, form.form])));
  const lies = inside(context);
  const { conditions, extra } = lies;
  const sealed = asRead(words, desk.sealRead, { isOptional: true, hint: desk.sealReadHint });
  const state = picks(words, desk.sealState, codesOf(phone.vocabulary, "received", "dock.seal_state").filter((each) => each !== "missing"), (each) => say(each));
  sealed.input.addEventListener("input", () => (state.element.hidden = !sealed.input.value.trim()));
  state.element.hidden = true;
  const looked = {
    package: several(words, desk.package, codesOf(phone.vocabulary, "received", "dock.package"), (each) => say(each)),
    seal: sealed,
    seal_state: state,
    record_enclosed: yesNo(words, desk.recordInside),
    ...(record.containers === null || record.received ? {} : { containers: count(words, desk.containers) }),
    temperature_c: degrees(words, desk.temperature),
  };
  const typed = label(words, desk.scanEach, "sample", { hint: words.numberHint });
  const total = count(words, desk.counted, { isOptional: false });
  const scanned = (text) => {
    typed.input.value = "";
    alarm("");
    try {
      const sample = readNumber(text, "sample");
      return void (onForm.has(sample) ? lies.add(sample) : lies.addForeign(sample));
    } catch (error) {
      if (!(error instanceof BadNumber)) throw error;
      if (error.facts.found === "seal") return void sealed.put(text.trim().split("/").pop());
      const isForeign = FOREIGN.test(text.trim()) && !error.facts.found && !["check", "swapped"].includes(error.code);
      return void (isForeign ? lies.addForeign(text.trim()) : alarm(wrongNumber(words, error)));
    }
  };
  typed.input.addEventListener("change", () => typed.input.value.trim() && scanned(typed.input.value));
  context.typed(scanned);
  const compared = el("div", { role: "alert" });
  let before = "";
  // Whoever looked at all of it says so at once, and may change each.
  const allSound = () => {
    looked.package.put({ offered: ["sound"], chosen: ["sound"] });
    if (sealed.input.value.trim()) state.put("intact");
    looked.record_enclosed.put(true);
    for (const each of conditions.values()) each.put({ offered: ["intact"], chosen: ["intact"] });
  };
  const sign = async () => {
    const said = ask({ ...looked, total });
    if (!said) return;
    if (!said.package.length) return void missing(looked.package, desk.package, words);
    const bare = [...conditions].find(([, each]) => !each.answer().length);
    if (bare) return void missing(bare[1], grouped(bare[0]), words);
    const read = new Map([...conditions].map(([sample, each]) => [sample, each.answer()]));
    const { total: counted, seal, seal_state: how, ...rest } = said;
    const envelopeRead = {
      envelope, ...rest, seal: seal?.toUpperCase() ?? null, seal_state: seal ? how : "missing", total: counted, extra: [...extra],
    };
    const unlike = differences(record, envelopeRead, read, say);
    const now = JSON.stringify([envelopeRead, [...read]]);
    if (unlike.length && before !== now) {
      before = now;
      const sentences = unlike.map(({ code, facts }) => note("warn", desk.unlike[code](facts)));
      const listed = record.samples.map((each) => el("li", {}, printed(grouped(each))));
      compared.replaceChildren(el("h2", {}, desk.differences), ...sentences, el("h2", {}, desk.onRecord), el("ul", { class: "rows" }, ...listed));
      return void compared.scrollIntoView({ block: "end" });
    }
    if (await context.sign(...drafts(forms, envelopeRead, read, at(phone.now(), zoneHere())))) await go(`decide/${envelope}`);
  };
  const next = button(desk.signReceived, sign);
  return {
    title: desk.dockTitle,
    fields: { lies, ...looked, total },
    body: [
      el("p", {}, printed(grouped(envelope))),
      record.received ? note("warn", desk.receivedAlready(told(record.received.at))) : null,
      el("div", { class: "desk" },
        el("div", {}, ...elements(looked)),
        el("div", {}, scanner(words, scanned).element, typed.element, lies.element, total.element, button(desk.allSound, allSound, { second: true }), compared)),
    ],
    bar: [next, link(desk.takeInstead, `#take-in/${envelope}`), link(words.back, "#dock")],
  };
}

function missing(field, name, words) {
  alarm(`${name}: ${words.choose}`);
  field.focus();
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
