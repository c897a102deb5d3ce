// A sealed envelope goes with somebody who has no key: who carries it, by name, and when it is expected. The ledger is
// asked whether it may, and prepares what is signed; it is compared with what was entered. Whoever has a key receives it
// on their own phone instead.

import { faults, present } from "../core/facts.js";
import { canonical } from "../core/json.js";
import { at } from "../core/moments.js";
import { grouped } from "../core/numbers.js";
import { Problem, Unreachable } from "../core/service.js";
import { el, note, number as printed } from "../parts/el.js";
import { ask, line, yesNo } from "../parts/fields.js";
import { alarm, button, link } from "../parts/frame.js";
import { code, label, moment, tag } from "../parts/kinds.js";
import { scanner } from "../parts/scanner.js";

const BY_HAND = "by hand";
const RECKONED = ["expected_delivery", "expected_receipt"];

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
  const no = (sentence) => ({ title: words.carryTitle, body: [el("p", {}, printed(grouped(envelope))), note("stop", sentence)], bar: [link(words.back, "#carry")] });
  let zone;
  let inside;
  try {
    inside = (await phone.service.get(`/envelopes/${envelope}`)).told;
    ({ zone } = (await phone.service.get(`/forms/${inside.forms[0]}`)).told);
  } catch (error) {
    if (error instanceof Unreachable) return no(words.carryNoNetwork);
    if (error instanceof Problem) return no(error.message);
    throw error;
  }
  const fields = {
    name: line(words, words.courierName, { isOptional: true, hint: words.isPrivate }),
    telephone: line(words, words.courierPhone, { isOptional: true, hint: words.isPrivate, mode: "tel" }),
    relation: code(context, words.relation, "shipped", "courier.relation"),
    id_seen: yesNo(words, words.idSeen, { isOptional: true }),
    slip: tag(words, words.slip),
    expected: moment(words, words.expected, at(phone.now(), zone).slice(19)),
  };
  const remarks = el("div", { role: "alert" });
  let told = "";
  const sign = async () => {
    const said = ask(fields);
    if (!said) return;
    const asked = shipped(envelope, said, at(phone.now(), zone));
    const answer = await readiness(phone, asked);
    if (!answer) return;
    const shown = JSON.stringify([said, answer.findings.map((each) => each.sentence)]);
    const isAgain = told === shown;
    told = shown;
    const mayLeave = answer.ready && (isAgain || !answer.findings.length);
    remarks.replaceChildren(...(mayLeave ? [] : remarked(words, answer)));
    if (!mayLeave) return void remarks.scrollIntoView({ block: "end" });
    const isSame = isOnceEach(answer.statements, inside.forms) && answer.statements.every((each) => saysOnly(phone, each, asked));
    if (!isSame) return void alarm(words.preparedOtherwise);
    const secret = { courier_name: said.name, courier_phone: said.telephone };
    const drafts = answer.statements.map(({ sub, act, data }) => ({ chain: sub, act, data, private: secret, zone }));
    if (await context.sign(...drafts)) await go("signed");
  };
  return {
    title: words.carryTitle,
    fields,
    body: [
      el("p", {}, printed(grouped(envelope)), ` ${words.carryInside(inside.samples.length, inside.seal)}`),
      ...inside.forms.map((each) => el("p", {}, words.formNumber, " ", printed(grouped(each)))),
      ...Object.values(fields).map((each) => each.element),
      remarks,
    ],
    bar: [button(words.signShipped, sign), link(words.back, "#carry")],
  };
}

const remarked = (words, { ready, findings }) => [
  ...findings.map((each) => note(each.severity === "block" ? "stop" : "warn", `${each.sentence} ${each.remedy}`)),
  el("p", {}, ready ? words.carryRemarks : words.carryNotReady),
];

// As `bailee ship --by-hand` says it.
export function shipped(envelope, { name, relation, id_seen: seen, slip, expected }, now) {
  const courier = present({ relation, named: name ? true : null, id_seen: seen, slip });
  const way = { envelope, carrier: BY_HAND, service: BY_HAND, service_days: 0, saturday: false, by_hand: true };
  return present({ ...way, handed_over: now, expected_delivery: expected, courier });
}

async function readiness(phone, data) {
  return phone.service.question("/readiness", { act: "shipped", data }).catch((error) => {
    if (!(error instanceof Unreachable || error instanceof Problem)) throw error;
    alarm(error.message);
    return null;
  });
}

// One statement for each form of the envelope that stood on the screen, and none besides.
function isOnceEach(statements, forms) {
  const subs = statements.map(({ sub }) => sub);
  return subs.length > 0 && new Set(subs).size === subs.length && subs.every((each) => forms.includes(each.replace(/^form\//, "")));
}

// What was prepared says what was entered, and beside it only what the ledger reckons.
function saysOnly(phone, { sub, act, data }, asked) {
  const added = Object.keys(data).filter((name) => !(name in asked) && !RECKONED.includes(name));
  const isSame = Object.entries(asked).every(([name, value]) => name in data && canonical(data[name]) === canonical(value));
  return act === "shipped" && sub.startsWith("form/") && !added.length && isSame && !faults(phone.vocabulary.acts.shipped.data, data).length;
}

