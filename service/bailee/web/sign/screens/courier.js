// A sealed envelope goes with somebody who has no key: who carries it, by name, and when it is expected. The ledger is
// asked whether it may, and prepares what is signed; it is compared with what was entered. Whoever has a key receives it
// on their own phone instead.

import { present } from "../core/facts.js";
import { at } from "../core/moments.js";
import { grouped } from "../core/numbers.js";
import { el, number as printed } from "../parts/el.js";
import { ask, line, yesNo } from "../parts/fields.js";
import { button, link } from "../parts/frame.js";
import { code, label, moment, tag } from "../parts/kinds.js";
import { onRecord } from "../parts/on_record.js";
import { agreed, asEntered, readiness } from "../parts/prepared.js";
import { scanner } from "../parts/scanner.js";

const BY_HAND = "by hand";

export async function carry(context, envelope) {
  return envelope ? handOver(context, envelope) : which(context);
}

function which(context) {
  const { words, go } = context;
  const field = label(words, words.envelope, "envelope", { hint: words.numberHint });
  const scanned = (text) => {
    field.input.value = text;
    next();
  };
  const next = () => {
    const found = field.answer();
    if (found) go(`carry/${found}`);
  };
  context.typed(scanned);
  return {
    title: words.carryTitle,
    body: [el("p", {}, words.carryText), scanner(words, scanned).element, field.element],
    bar: [button(words.next, next), link(words.home, "#home")],
  };
}

async function handOver(context, envelope) {
  const { words, phone, go } = context;
  const found = await onRecord(context, envelope, { title: words.carryTitle, back: "carry", without: words.carryNoNetwork });
  if (found.screen) return found.screen;
  const { record: inside, forms } = found;
  const { zone } = forms[0];
  const fields = {
    name: line(words, words.courierName, { isOptional: true, hint: words.isPrivate }),
    telephone: line(words, words.courierPhone, { isOptional: true, hint: words.isPrivate, mode: "tel" }),
    relation: code(context, words.relation, "shipped", "courier.relation"),
    id_seen: yesNo(words, words.idSeen, { isOptional: true }),
    slip: tag(words, words.slip),
    expected: moment(words, words.expected, at(phone.now(), zone).slice(19)),
  };
  const remarks = agreed(context, { not: words.carryNotReady });
  const sign = async () => {
    const said = ask(fields);
    if (!said) return;
    const entered = shipped(envelope, said, at(phone.now(), zone));
    const answer = await readiness(phone, "shipped", entered);
    if (!answer || !remarks.settled(said, answer)) return;
    const statements = asEntered(context, "shipped", answer, entered, inside.forms);
    if (!statements) return;
    const secret = { courier_name: said.name, courier_phone: said.telephone };
    const drafts = statements.map(({ sub, act, data }) => ({ chain: sub, act, data, private: secret, zone }));
    if (await context.sign(...drafts)) await go("signed");
  };
  return {
    title: words.carryTitle,
    fields,
    body: [
      el("p", {}, printed(grouped(envelope)), ` ${words.carryInside(inside.samples.length, inside.seal)}`),
      ...inside.forms.map((each) => el("p", {}, words.formNumber, " ", printed(grouped(each)))),
      ...Object.values(fields).map((each) => each.element),
      remarks.element,
    ],
    bar: [button(words.signShipped, sign), link(words.back, "#carry")],
  };
}

// As `bailee ship --by-hand` says it.
export function shipped(envelope, { name, relation, id_seen: seen, slip, expected }, now) {
  const courier = present({ relation, named: name ? true : null, id_seen: seen, slip });
  const way = { envelope, carrier: BY_HAND, service: BY_HAND, service_days: 0, saturday: false, by_hand: true };
  return present({ ...way, handed_over: now, expected_delivery: expected, courier });
}
