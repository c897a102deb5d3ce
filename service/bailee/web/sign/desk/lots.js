// The media keeper's boxes: what is there, one that arrives, and each with its numbers, labels and recall.

import { present } from "../core/facts.js";
import { dayAt, zoneHere } from "../core/moments.js";
import { grouped, issue } from "../core/numbers.js";
import { Problem, Unreachable } from "../core/service.js";
import { el, note, number as printed } from "../parts/el.js";
import { ask, folded, line } from "../parts/fields.js";
import { alarm, button, link } from "../parts/frame.js";
import { code, count, decimal, matching, run, tag } from "../parts/kinds.js";
import { elements } from "../parts/signing.js";
import { oneLot, signIssued } from "./lot.js";
import { words as desk } from "./words.js";

const OF_SURFACES = ["tape", "swab", "contact_plate", "container"];
const AS_BEFORE = "lots/last"; // the maker prints the same on each box of a kind
const MONTH = /^\d{4}-(0[1-9]|1[0-2])(-\d\d)?$/;

export async function lots(context, rest) {
  const { words, phone } = context;
  if (rest === "new") return arriving(context);
  if (rest) return oneLot(context, rest);
  let told;
  try {
    ({ told } = await phone.service.get("/lots"));
  } catch (error) {
    if (!(error instanceof Unreachable || error instanceof Problem)) throw error;
    return { title: words.lots, body: [note("stop", error instanceof Problem ? error.message : desk.needsNetwork)], bar: [link(words.home, "#home")] };
  }
  if (!told.lots.length) return arriving(context, "home");
  const today = dayAt(phone.now(), zoneHere());
  const rows = told.lots.map((each) => el("li", {}, el("a", { href: `#lots/${each.lot}` }, printed(grouped(each.lot)), el("span", {}, desk.lotLine(each, each.expires && each.expires < today)))));
  return {
    title: words.lots,
    body: [el("ul", { class: "rows" }, ...rows)],
    bar: [link(desk.arrives, "#lots/new", false), link(words.home, "#home")],
  };
}

async function arriving(context, back = "lots") {
  const { words, phone, go } = context;
  const last = (await phone.store.recall(AS_BEFORE)) ?? {};
  const noExpiry = desk.noExpiryWord;
  const fields = {
    maker_lot: tag(words, desk.makerLot, { isOptional: false }),
    cassette: code(context, words.kind, "lot_received", "cassette", { value: last.cassette ?? null, changed: (kind) => (flow.element.hidden = OF_SURFACES.includes(kind)) }),
    expiry: line(words, desk.expiry, { hint: desk.expiryHint, read: (text) => (text.toLowerCase() === noExpiry ? noExpiry : matching(MONTH)(text)), wrong: () => desk.wrongExpiry }),
    count: count(words, desk.lotCount, { isOptional: false }),
    nominal_flow: decimal(words, desk.nominalFlow, { isOptional: false, value: last.nominal_flow ?? "" }),
    how_many: count(words, desk.issueAtOnce),
    run_s: run(words, desk.makerRun, { value: last.run ?? "5:00" }),
    stored: tag(words, desk.shelf, { value: last.stored ?? "" }),
  };
  const flow = fields.nominal_flow;
  context.typed((text) => fields.maker_lot.put(text.trim())); // as the bars on the box say it
  const many = fields.how_many.input; // all of them, unless somebody says otherwise
  fields.count.input.addEventListener("change", () => (many.value ||= fields.count.input.value.trim()));
  flow.element.hidden = OF_SURFACES.includes(last.cassette);
  const sign = async () => {
    const said = ask(fields);
    if (!said) return;
    const { how_many: many, nominal_flow: liters = "0", expiry, ...data } = said;
    if (many > said.count) return void alarm(desk.moreThanCassettes);
    const lot = issue("lot");
    const received = { ...present({ ...data, nominal_flow: liters }, ["count"]), expiry: expiry === noExpiry ? null : expiry };
    if (!(await context.sign({ chain: `lot/${lot}`, act: "lot_received", data: received }))) return;
    await phone.store.remember(AS_BEFORE, { cassette: said.cassette, nominal_flow: liters, run: fields.run_s.kept(), stored: said.stored });
    await phone.sync(); // the ledger is asked about a box that it knows
    if (many) await signIssued(context, lot, { count: many }, { settled: (_, { ready, findings }) => ready && !findings.length });
    await go(`lots/${lot}`);
  };
  const { run_s: lasts, stored, ...first } = fields;
  return {
    title: desk.arrives,
    fields,
    body: [...elements(first), folded(words.more, lasts.element, stored.element)],
    bar: [button(desk.signLot, sign), link(words.back, `#${back}`)],
  };
}
