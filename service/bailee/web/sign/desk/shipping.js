// The clerk hands an envelope to a carrier: when it would arrive, what else could be done, and then its signature.

import { present } from "../core/facts.js";
import { at, shownMoment as told } from "../core/moments.js";
import { grouped, kindOf, labelNumber } from "../core/numbers.js";
import { askedBack } from "../parts/asked_back.js";
import { el, number as printed } from "../parts/el.js";
import { ask, datalist, refuse, yesNo } from "../parts/fields.js";
import { alarm, button, link } from "../parts/frame.js";
import { code, count, tag } from "../parts/kinds.js";
import { onRecord, refused } from "../parts/on_record.js";
import { agreed, asEntered, readiness } from "../parts/prepared.js";
import { elements } from "../parts/signing.js";
import { whichEnvelope } from "./envelope_number.js";
import { words as desk } from "./words.js";

const MOST_DAYS = 30;
const AS_BEFORE = "shipping/last";

export async function ship(context, envelope) {
  return envelope ? shipping(context, envelope) : whichEnvelope(context, { title: desk.shipTitle, text: desk.shipText, screen: "ship" });
}

async function shipping(context, envelope) {
  const { words, phone, go } = context;
  const place = { title: desk.shipTitle, back: "ship", without: desk.shipNoNetwork };
  const found = await onRecord(context, envelope, place);
  if (found.screen) return found.screen;
  const { record: inside, forms } = found;
  const why = !inside.sealed_at ? desk.notSealedYet : inside.shipped ? desk.shippedAlready : null;
  if (why) return refused(context, envelope, { ...place, why });
  const { zone } = forms[0];
  const carriers = await carriersOf(phone);
  const last = (await phone.store.recall(AS_BEFORE)) ?? {};
  const fields = {
    carrier: tag(words, desk.carrier, { isOptional: false, list: datalist(carriers), value: last.carrier ?? (carriers.length === 1 ? carriers[0] : "") }),
    service: tag(words, desk.service, { isOptional: false, value: last.service ?? "" }),
    service_days: count(words, desk.days, { isOptional: false, value: String(last.service_days ?? 1), wrong: () => desk.wrongDays }),
    saturday: yesNo(words, desk.saturday, { value: last.saturday ?? false }),
    tracking: tag(words, desk.tracking, { isOptional: false }),
    classified: code(context, desk.classified, "shipped", "classified", { isOptional: true }),
  };
  context.typed((text) => fields.tracking.put(text.trim()));
  const plan = el("div", { role: "status" });
  const back = askedBack({ ...words, slips: desk.airbillSlips });
  const remarks = agreed(context, { not: desk.notShipped });
  let shown = null;
  const look = async () => {
    const [carrier, days, saturday] = [fields.carrier.answer(), fields.service_days.answer(), fields.saturday.answer()];
    if (!carrier || days === undefined || days > MOST_DAYS) return;
    const asked = new URLSearchParams({ number: envelope, carrier, handed_over: at(phone.now(), zone), service_days: days, saturday });
    const found = await phone.service.get(`/window?${asked}`).then((answer) => answer.told, () => null);
    shown = found?.window.received ?? null;
    plan.replaceChildren(...(found ? planned(found) : []));
  };
  for (const each of [fields.carrier, fields.service_days, fields.saturday]) each.element.addEventListener("change", look);
  const sign = async () => {
    const said = ask(fields);
    if (!said) return;
    if (said.service_days > MOST_DAYS) return void refuse(fields.service_days, desk.wrongDays);
    if (!back.settled(slips(said, inside))) return;
    const entered = present({ envelope, ...said, by_hand: false, handed_over: at(phone.now(), zone) });
    const answer = await readiness(phone, "shipped", entered);
    if (!answer || !remarks.settled(said, answer)) return;
    const { received } = answer.window;
    if (received && received !== shown) {  // a cut-off has passed since
      shown = received;
      plan.replaceChildren(...planned({ window: answer.window, notes: [], alternatives: [] }));
      return void alarm(desk.arrivesNow(told(received)));
    }
    const statements = asEntered(context, "shipped", answer, entered, inside.forms);
    if (!statements) return;
    if (!(await context.sign(...statements.map(({ sub, act, data }) => ({ chain: sub, act, data, zone }))))) return;
    const { carrier, service, service_days: days, saturday } = said;
    await phone.store.remember(AS_BEFORE, { carrier, service, service_days: days, saturday });
    await go("signed");
  };
  if (fields.carrier.kept()) await look();
  return {
    title: desk.shipTitle,
    fields,
    body: [
      el("p", {}, printed(grouped(envelope)), ` ${words.carryInside(inside.samples.length, inside.seal)}`),
      el("div", { class: "desk" }, el("div", {}, ...elements(fields)), el("section", {}, plan)),
      back.element,
      remarks.element,
    ],
    bar: [button(desk.signShipped, sign), link(words.carryTitle, `#carry/${envelope}`), link(words.back, "#home")],
  };
}

// As the terminal asks back: the number of a label, or of the seal on this envelope, where the carrier's was to be read.
export function slips({ tracking }, { seal }) {
  const label = labelNumber(tracking);
  if (label) return [{ code: "label-as-tracking", member: "tracking", facts: { number: grouped(label), kind: kindOf(label) } }];
  const isSeal = seal && tracking.replace(/\s/g, "").toLowerCase() === seal.toLowerCase();
  return isSeal ? [{ code: "seal-as-tracking", member: "tracking", facts: { tracking } }] : [];
}

// Those of which its own organization has a calendar.
async function carriersOf(phone) {
  const calendars = await phone.service.get(`/organizations/${phone.device.org}`).then((answer) => answer.told.calendars, () => ({}));
  return Object.keys(calendars).filter((each) => each.startsWith("carrier/")).map((each) => each.slice("carrier/".length));
}

// When it would arrive, and what else could be done, the best first.
function planned({ window, notes, alternatives }) {
  const rows = alternatives.map((each) => el("li", {},
    el("strong", {}, each.how), el("div", {}, `${told(each.hand_over)} → ${told(each.received)}`), el("div", { class: "soft" }, each.reasons.join(" "))));
  return [
    window.received ? el("p", {}, desk.wouldArrive(told(window.received))) : null,
    window.latest_hand_over ? el("p", {}, desk.latest(told(window.latest_hand_over))) : null,
    ...notes.map((each) => el("p", { class: "soft" }, each)),
    rows.length ? el("h2", {}, desk.other) : null,
    rows.length ? el("ol", { class: "rows" }, ...rows) : null,
  ].filter(Boolean);
}
