// The laboratory decides about what it received: accepted, on hold or rejected, with its own numbers in one go; of one
// envelope, or accepted together of all that are in order.

import { el, note, number as printed } from "../parts/el.js";
import { grouped, read as readNumber } from "../core/numbers.js";
import { ask, line, picks, several } from "../parts/fields.js";
import { alarm, button, link } from "../parts/frame.js";
import { code, codesOf, wrongNumber } from "../parts/kinds.js";
import { onRecord } from "../parts/on_record.js";
import { told } from "../parts/prepared.js";
import { elements } from "../parts/signing.js";
import { drafts, graveIn, openIn, stopsOf, undecided } from "./decision.js";
import { following } from "./following.js";
import { words as desk } from "./words.js";

const DECISIONS = ["accepted", "on_hold", "rejected"];

export async function decide(context, envelope) {
  const { words, phone, go } = context;
  const place = { title: desk.decideTitle, back: "dock", without: desk.needsNetwork };
  await phone.sync(); // what was received a moment ago is decided about
  const found = await onRecord(context, envelope, place);
  if (found.screen) return found.screen;
  nextByScan(context);
  const { forms } = found;
  const named = openIn(envelope, forms).map((each) => each.sample);
  if (!named.length) return nothing(envelope);
  const findings = graveIn(forms);
  const { fields, retold } = questions(context, named, findings, (text) => (sign.textContent = text));
  const stopped = el("div", { role: "alert" });
  const sign = button("", async () => {
    const said = ask(fields);
    if (!said) return;
    if (!said.samples.length) return void alarm(words.choose);
    if (said.decision !== "accepted" && !said.reasons?.length) return void alarm(desk.needsReason);
    const left = said.samples.length < named.length;
    await signed(context, forms, said, { stopped, then: left ? `decide/${envelope}` : "dock" });
  });
  retold();
  return {
    title: desk.decideTitle,
    fields,
    body: [
      el("p", {}, printed(grouped(envelope)), ` ${desk.decideText}`),
      el("div", { class: "desk" },
        el("div", {}, ...elements(fields), stopped),
        el("section", { "aria-label": desk.missing }, ...(findings.length ? told(context, findings) : [note("good", desk.inOrder)]))),
    ],
    bar: [sign, link(desk.decideNext, "#dock")],
  };
}

// The next envelope comes by its label, whatever is on the screen: what is decided about this one waits on the dock's list.
function nextByScan({ words, typed, go }) {
  typed((text) => {
    try {
      return go(`dock/${readNumber(text, "envelope")}`);
    } catch (error) {
      return void alarm(wrongNumber(words, error));
    }
  });
}

const nothing = (envelope) => ({
  title: desk.decideTitle,
  body: [el("p", {}, printed(grouped(envelope))), el("p", {}, desk.nothingToDecide)],
  bar: [link(desk.decideNext, "#dock", false)],
});

const firstNumber = (words) =>
  line(words, desk.firstNumber, { isOptional: true, hint: desk.firstNumberHint, read: (text) => following(text, 1) && text.trim(), wrong: () => desk.wrongFirst });

// What is asked follows the decision; `told` is called with the words of the button.
function questions(context, named, findings, tell) {
  const { words, phone } = context;
  const reasons = several(words, desk.reasons, codesOf(phone.vocabulary, "on_hold", "reasons"), (each) => context.say(each));
  const resample = code(context, desk.resample, "rejected", "resample", { isOptional: true });
  const first = firstNumber(words);
  const fields = {
    samples: several(words, words.which, named, grouped, { value: named, isWide: true, changed: () => retold() }),
    decision: picks(words, desk.decision, DECISIONS, (each) => desk.decisions[each], { value: "accepted", changed: () => retold() }),
    reasons, resample, first,
  };
  const retold = () => {
    const decision = fields.decision.kept();
    reasons.element.hidden = decision === "accepted" && !findings.length;
    resample.element.hidden = decision !== "rejected";
    first.element.hidden = decision !== "accepted";
    tell(desk.signDecided(desk.decisions[decision], fields.samples.answer().length));
  };
  return { fields, retold };
}

// Asked of the ledger, and signed where nothing stops it.
async function signed(context, forms, said, { stopped, then }) {
  const made = drafts(context.phone, forms, said);
  const stops = await stopsOf(context.phone, made);
  if (!stops) return;
  if (stops.length) return void stopped.replaceChildren(...told(context, stops), el("p", {}, context.words.notSigned));
  if (await context.sign(...made)) await context.go(then);
}

// Everything that was received on this device and is in order, with one signature; each other envelope by itself.
export async function accept(context) {
  const { words, phone } = context;
  await phone.sync();
  nextByScan(context);
  const place = { title: desk.acceptTitle, back: "dock", without: desk.needsNetwork };
  const found = await Promise.all((await undecided(phone)).map(async (envelope) => ({ envelope, ...(await onRecord(context, envelope, place)) })));
  const away = found.find((each) => each.screen);
  if (away) return away.screen;
  const open = found.map((each) => ({ ...each, samples: openIn(each.envelope, each.forms), isGood: !graveIn(each.forms).length })).filter((each) => each.samples.length);
  const good = open.filter((each) => each.isGood && each.samples.every(({ status }) => status === "received"));
  const forms = [...new Map(good.flatMap((each) => each.forms).map((form) => [form.form, form])).values()];
  const named = good.flatMap((each) => each.samples.map(({ sample }) => sample));
  const fields = { first: firstNumber(words) };
  const stopped = el("div", { role: "alert" });
  const sign = async () => {
    const said = ask(fields);
    if (said) await signed(context, forms, { ...said, samples: named, decision: "accepted" }, { stopped, then: "dock" });
  };
  const rows = open.map((each) => el("li", {}, el("a", { href: `#decide/${each.envelope}` }, printed(grouped(each.envelope)),
    el("span", {}, `${words.samplesHere(each.samples.length)}, ${good.includes(each) ? desk.inOrder : desk.byItself}`))));
  return {
    title: desk.acceptTitle,
    fields: named.length ? fields : {},
    body: [
      el("p", {}, rows.length ? desk.acceptText : desk.nothingToDecide),
      rows.length ? el("ul", { class: "rows" }, ...rows) : null,
      ...(named.length ? elements(fields) : []),
      stopped,
    ],
    bar: [named.length ? button(desk.signDecided(desk.decisions.accepted, named.length), sign) : null, link(desk.decideNext, "#dock")],
  };
}
