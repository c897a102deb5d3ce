// What the ledger prepares for one gesture, one statement for each form: what it finds is shown before it is signed, and
// it makes nobody say anything else than what they entered.

import { faults } from "../core/facts.js";
import { canonical } from "../core/json.js";
import { Problem, Unreachable } from "../core/service.js";
import { el, note } from "./el.js";
import { alarm, link } from "./frame.js";

// Screens on which somebody does what a finding asks for.
const SCREENS = {
  received: ["take", "take"], relinquished: ["give", "give"], excepted: ["allow", "allow"], corrected: ["correct", "correct"],
  collected: ["visit", "visit"], outdoor_ruled_out: ["rule-out", "ruleOut"], voided: ["void", "void"], held: ["secure", "secure"],
};

// Its answer to a draft; null where there is none, once that is said.
export function readiness(phone, act, data) {
  return phone.service.question("/readiness", { act, data }).catch((error) => {
    if (!(error instanceof Unreachable || error instanceof Problem)) throw error;
    alarm(error.message);
    return null;
  });
}

// A note asks nothing of anybody.
export const isGrave = ({ severity }) => severity !== "note";

export const isStop = ({ severity }) => severity === "block";

// Each finding with what to do, and a way to the screen where this person does it; what stops comes first.
export const told = ({ words, phone }, findings) => findings.toSorted((one, other) => isStop(other) - isStop(one)).map((each) =>
  el("div", {},
    note(isStop(each) ? "stop" : "warn", `${each.sentence} ${each.remedy}`),
    ...ways(words, phone, each)));

function ways(words, phone, { acts }) {
  const offered = acts.filter(({ act }) => SCREENS[act] && phone.may(act));
  const addresses = new Map(offered.map(({ act, form }) => [act === "received" ? "#take" : `#${SCREENS[act][0]}/${form}`, words[SCREENS[act][1]]]));
  return [...addresses].filter(([address]) => !address.endsWith("undefined")).map(([address, text]) => link(text, address));
}

// What was found stops, or is read once and agreed to by the same button.
export function agreed(context, sentences) {
  const { words } = context;
  const element = el("div", { role: "alert" });
  let before = "";
  const settled = (said, { ready, findings }) => {
    const grave = findings.filter(isGrave);
    const now = JSON.stringify([said, grave.map(({ rule, about }) => [rule, about])]); // not the sentence: it tells how long ago
    const isAgain = before === now;
    before = now;
    const may = ready && (isAgain || !grave.length);
    element.replaceChildren(...(may ? [] : [...told(context, grave), el("p", {}, ready ? (sentences.again ?? words.carryRemarks) : sentences.not)]));
    if (!may) element.scrollIntoView({ block: "end" });
    return may;
  };
  return { element, settled };
}

// Of what was prepared, what each statement says, if it is what was entered and beside it only what the ledger reckons;
// null, once that is said, if it is not. Samples are divided among the forms, each once, and counted; nothing is
// acknowledged that was not shown, and no arrival expected but the one that was told. `forms` are those that have to have a statement, where they are known.
export function asEntered({ words, phone }, act, { statements, findings, window: plan }, entered, forms = null) {
  const { data: shape, reckoned } = phone.vocabulary.acts[act];
  const named = statements.map(({ sub }) => sub.replace(/^form\//, ""));
  const isOnceEach = named.length > 0 && statements.every(({ sub }) => sub.startsWith("form/")) && isSame(named, forms ?? [...new Set(named)]);
  const same = Object.entries(entered).filter(([name]) => name !== "samples");
  const shown = findings.map(({ rule, about }) => canonical({ about, rule }));
  const saysOnly = ({ act: name, data }) =>
    name === act
    && same.every(([member, value]) => member in data && canonical(data[member]) === canonical(value))
    && Object.keys(data).every((member) => member in entered || reckoned.includes(member))
    && (data.count ?? data.samples?.length) === data.samples?.length
    && isSame(data.forms ?? named, named)
    && (data.findings ?? []).every((each) => shown.includes(canonical(each)))
    && (data.expected_receipt ?? null) === (plan?.received ?? null)
    && (entered.by_hand || (data.expected_delivery ?? null) === (plan?.delivered ?? null))
    && (!entered.by_hand || data.expected_delivery === entered.expected_delivery)
    && !faults(shape, data).length;
  const isDivided = isSame(statements.flatMap(({ data }) => data.samples ?? []), entered.samples ?? []);
  if (isOnceEach && isDivided && statements.every(saysOnly)) return statements;
  alarm(words.preparedOtherwise);
  return null;
}

// In any order.
const isSame = (some, others) => canonical(some.toSorted()) === canonical(others.toSorted());
