// The laboratory decides about what it received: accepted, on hold or rejected, with its own numbers in one go.

import { present } from "../core/facts.js";
import { at, zoneHere } from "../core/moments.js";
import { grouped } from "../core/numbers.js";
import { el, note, number as printed } from "../parts/el.js";
import { ask, line, picks, several } from "../parts/fields.js";
import { alarm, button, link } from "../parts/frame.js";
import { code, codesOf } from "../parts/kinds.js";
import { onRecord } from "../parts/on_record.js";
import { readiness, told } from "../parts/prepared.js";
import { elements } from "../parts/signing.js";
import { following } from "./following.js";
import { words as desk } from "./words.js";

const OPEN = ["received", "on_hold"];
const DECISIONS = ["accepted", "on_hold", "rejected"];

export async function decide(context, envelope) {
  const { words, phone, go } = context;
  await phone.sync(); // what was received a moment ago is decided about
  const found = await onRecord(context, envelope, { title: desk.decideTitle, back: "dock", without: desk.needsNetwork });
  if (found.screen) return found.screen;
  const { forms } = found;
  const open = forms.flatMap((form) => form.samples.filter((each) => each.envelope === envelope && OPEN.includes(each.status) && !each.void).map((each) => ({ ...each, form })));
  if (!open.length) return { title: desk.decideTitle, body: [el("p", {}, printed(grouped(envelope))), el("p", {}, desk.nothingToDecide)], bar: [link(desk.decideNext, "#dock", false)] };
  const named = open.map((each) => each.sample);
  const findings = forms.flatMap((form) => form.findings.filter((each) => !each.excepted && ["block", "refuse", "flag"].includes(each.severity)));
  const reasons = several(words, desk.reasons, codesOf(phone.vocabulary, "on_hold", "reasons"), (each) => context.say(each));
  const resample = code(context, desk.resample, "rejected", "resample", { isOptional: true });
  const first = line(words, desk.firstNumber, { isOptional: true, hint: desk.firstNumberHint, read: (text) => following(text, 1) && text.trim(), wrong: () => desk.wrongFirst });
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
    sign.textContent = desk.signDecided(desk.decisions[decision], fields.samples.answer().length);
  };
  const sign = button("", async () => {
    const said = ask(fields);
    if (!said) return;
    if (!said.samples.length) return void alarm(words.choose);
    if (said.decision !== "accepted" && !said.reasons?.length) return void alarm(desk.needsReason);
    const numbers = said.first ? following(said.first, said.samples.length) : [];
    const own = Object.fromEntries(said.samples.map((each, n) => [each, numbers[n]]).filter(([, each]) => each));
    const mine = forms.map((form) => ({ form, samples: said.samples.filter((each) => form.samples.some((one) => one.sample === each)) })).filter(({ samples }) => samples.length);
    const drafts = mine.map(({ form, samples }) => {
      const lab = Object.fromEntries(samples.filter((each) => own[each]).map((each) => [each, own[each]]));
      const data = { samples, at: at(phone.now(), zoneHere()), reasons: said.reasons ?? [], resample: said.resample ?? null };
      return { chain: `form/${form.form}`, act: said.decision, data: present({ ...data, lab_numbers: Object.keys(lab).length ? lab : null }), zone: form.zone };
    });
    for (const { act, data } of drafts) {
      const answer = await readiness(phone, act, data);
      if (!answer) return;
      const stops = answer.findings.filter((each) => each.severity === "block");
      if (stops.length) return void stopped.replaceChildren(...told(context, stops), el("p", {}, words.notSigned));
    }
    if (await context.sign(...drafts)) await go(said.samples.length < named.length ? `decide/${envelope}` : "dock");
  });
  const stopped = el("div", { role: "alert" });
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
