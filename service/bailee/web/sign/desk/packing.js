// The clerk closes an envelope: what is scanned into it, what is missing beside it, its seal. What was scanned is kept
// with every scan until it is sealed; several envelopes may be open at once.

import { at, shownMoment, zoneHere } from "../core/moments.js";
import { present } from "../core/facts.js";
import { grouped, issue, read as readNumber } from "../core/numbers.js";
import { counted } from "../core/slips.js";
import { visits } from "../core/visits.js";
import { askedBack } from "../parts/asked_back.js";
import { el, note, number as printed } from "../parts/el.js";
import { ask, yesNo } from "../parts/fields.js";
import { alarm, button, link, say as saying } from "../parts/frame.js";
import { count, label, wrongNumber } from "../parts/kinds.js";
import { agreed, asEntered, isGrave, isStop, readiness, told } from "../parts/prepared.js";
import { scanner } from "../parts/scanner.js";
import { elements } from "../parts/signing.js";
import { read } from "./papers.js";
import { whichEnvelope } from "./envelope_number.js";
import { namesShown } from "./policies_named.js";
import { sealNumber, sealScanned } from "./seals.js";
import { words as desk } from "./words.js";

const nameOf = (envelope) => `packing/${envelope}`;

export async function pack(context, envelope) {
  if (envelope === "new") return context.go(`pack/${issue("envelope")}`);
  if (envelope) return packing(context, envelope);
  const open = (await context.phone.store.under(nameOf(""))).filter((each) => each.samples.length);
  const rows = open.map((each) => el("li", {}, el("a", { href: `#pack/${each.envelope}` }, printed(grouped(each.envelope)), el("span", {}, context.words.samplesHere(each.samples.length)))));
  const anew = button(desk.packNew, () => context.go("pack/new"), { second: true });
  const more = rows.length ? [el("h2", {}, desk.packed), el("ul", { class: "rows" }, ...rows)] : [];
  return whichEnvelope(context, { title: desk.packTitle, text: desk.packText, screen: "pack", more, buttons: [anew] });
}

async function packing(context, envelope) {
  const { words, phone, go, isShown } = context;
  let kept = (await phone.store.recall(nameOf(envelope))) ?? { envelope, samples: [] };
  const known = visits(await phone.said(), phone.brief, phone.device.kid);
  const field = label(words, desk.scanInto, "sample", { hint: words.numberHint });
  const list = el("ol", { class: "rows" });
  const missing = el("div", { role: "status" });
  const beside = el("section", { "aria-label": desk.missing }, el("h2", {}, desk.missing), missing);
  const fields = {
    total: count(words, words.countByHand, { isOptional: false }),
    seal: sealNumber(words, desk.seal, { wrong: () => desk.wrongSeal }),
    across_opening: yesNo(words, desk.across),
    record_enclosed: yesNo(words, desk.enclosed),
    record_pages: count(words, desk.pages),
    containers: count(words, desk.containers),
  };
  const zone = () => known.find((each) => kept.samples.some((one) => each.samples.has(one)))?.zone ?? zoneHere();
  const entered = (said) => present({ envelope, samples: kept.samples, at: at(phone.now(), zone()), ...said });
  // What was typed below so far, if it can be.
  const typed = () => Object.fromEntries(["total", "seal"].filter((each) => fields[each].kept().trim()).map((each) => [each, fields[each].answer()]).filter(([, value]) => value !== undefined));
  let turn = 0;
  // Asked with every scan, as if the seal were in order; of answers that overtake each other the newest scan's counts.
  const judge = async () => {
    const mine = (turn += 1);
    beside.hidden = false;
    remarks.element.replaceChildren();
    if (!kept.samples.length) return void missing.replaceChildren(el("p", { class: "soft" }, desk.noneIn));
    const answer = await readiness(phone, "sealed", entered({ across_opening: true, record_enclosed: true, ...typed() }));
    if (mine !== turn) return;
    const found = answer ? told(context, answer.findings.filter(isGrave)) : [note("warn", desk.notAsked)];
    missing.replaceChildren(...(found.length ? found : [el("p", { class: "soft" }, desk.nothingMissing)]));
  };
  // In one transaction: another window may have the same envelope open. Its scans are kept, and shown with the next.
  const change = async (of = (samples) => samples) => {
    const shown = kept.samples.join();
    await phone.store.transact(["memory"], "readwrite", (memory) => {
      memory.get(nameOf(envelope)).onsuccess = ({ target }) => {
        kept = { envelope, samples: of(target.result?.samples ?? []) };
        memory.put(kept, nameOf(envelope));
      };
    });
    if (kept.samples.join() !== shown) changed();
  };
  const changed = () => {
    seal.textContent = desk.signSealed(kept.samples.length);
    const forms = known.filter((each) => kept.samples.some((one) => each.samples.has(one))).map((each) => each.form);
    papers.replaceChildren(...forms.map(enclose));
    list.replaceChildren(...kept.samples.map((each) => el("li", { class: "line" }, el("div", {}, printed(grouped(each)), kindAt(context, known, each)),
      labeled(words.takeOutOf(grouped(each)), button(words.takeIt, () => drop(each), { second: true })))));
    judge();
  };
  const drop = (sample) => change((samples) => samples.filter((each) => each !== sample));
  const scanned = async (text) => {
    let sample;
    try {
      sample = readNumber(text, "sample");
    } catch (error) {
      return void alarm(wrongNumber(words, error));
    }
    alarm("");
    field.input.value = "";
    let isIn = false;
    await change((samples) => ((isIn = samples.includes(sample)) ? samples : [...samples, sample]));
    saying(isIn ? words.alreadyIn(grouped(sample)) : desk.scannedIn(grouped(sample), kept.samples.length));
  };
  for (const each of [fields.total, fields.seal]) each.input.addEventListener("change", judge);
  field.input.addEventListener("change", () => field.input.value.trim() && scanned(field.input.value));
  context.typed((text) => {
    const found = sealScanned(text);
    if (!found) return scanned(text);
    fields.seal.put(found);
    return void saying(`${desk.seal}: ${found}`);
  });
  const back = askedBack(words);
  const remarks = agreed(context, { not: desk.notSealed });
  // What is found stands once, and of a refusal only what stops, the first of it in sight.
  const isSettled = (said, { ready, findings }) => {
    turn += 1;
    beside.hidden = true;
    const isIt = remarks.settled(said, { ready, findings: ready ? findings : findings.filter(isStop) });
    remarks.element.querySelector(".stop")?.scrollIntoView({ block: "center" });
    return isIt;
  };
  const sign = async () => {
    if (!kept.samples.length) return void alarm(desk.noneIn);
    const said = ask(fields);
    if (!said || !back.settled(counted(said.total, kept.samples.length))) return;
    const whole = entered(said);
    const answer = await readiness(phone, "sealed", whole);
    await change();
    if (kept.samples.join() !== whole.samples.join()) return void alarm(desk.scannedMeanwhile); // while it was asked
    if (!answer || !isSettled([said, kept.samples], answer)) return;
    const statements = asEntered(context, "sealed", answer, whole);
    if (!statements) return;
    const forms = await phone.see(...statements.map(({ sub }) => sub));
    if (!(await namesShown(phone, statements, forms))) return void alarm(desk.otherPolicy);
    const drafts = statements.map(({ sub, act, data }) => ({ chain: sub, act, data, zone: zone(), done: [nameOf(envelope)] }));
    if (await context.sign(...drafts)) await go(`sealed/${envelope}`);
  };
  // It names envelope and seal, so it is printed before the envelope is closed.
  const papers = el("div", {});
  const enclose = (form) => button(desk.print(grouped(form)), async () => {
    const number = fields.seal.answer();
    if (number) await read(phone, `/forms/${form}/record.pdf?envelope=${envelope}&seal=${number}`);
    else alarm(desk.printFirst);
  }, { second: true });
  const seal = button(desk.signSealed(kept.samples.length), sign);
  changed();
  recordOf(phone, envelope).then((found) => {
    if (found.sealed_at && !kept.samples.length && isShown()) location.replace(`#sealed/${envelope}`); // nobody waits for it
  });
  return {
    title: desk.envelopeTitle,
    fields,
    body: [
      el("p", {}, printed(grouped(envelope))),
      el("div", { class: "desk" },
        el("div", {}, scanner(words, scanned).element, field.element, list, ...elements(fields), papers, back.element, remarks.element),
        beside),
    ],
    bar: [seal, link(words.back, "#pack")],
  };
}

function labeled(name, element) {
  element.setAttribute("aria-label", name);
  return element;
}

// What it is and where it was collected, as far as this device knows.
function kindAt({ say }, known, sample) {
  const visit = known.find((each) => each.samples.has(sample));
  const kind = visit?.samples.get(sample).kind;
  return visit ? el("span", { class: "soft" }, ` ${[kind && say(kind, "kind"), visit.site].filter(Boolean).join(", ")}`) : null;
}

// It is sealed: what became of it since, and what is done with it next.
export async function sealed({ words, phone }, envelope) {
  const what = el("p", { role: "status" }, desk.sealedText);
  const ship = link(desk.toShip, `#ship/${envelope}`, false);
  recordOf(phone, envelope).then(({ shipped, received }) => {
    ship.hidden = Boolean(shipped || received);
    if (ship.hidden) what.textContent = received ? desk.openedThere(shownMoment(received.at)) : desk.shippedAlready;
  });
  return {
    title: desk.sealedTitle,
    body: [el("p", {}, printed(grouped(envelope))), what, button(desk.papers, () => read(phone, `/pages/envelopes/${envelope}`), { second: true })],
    bar: [ship, link(words.home, "#home")],
  };
}

// As the ledger has it; nothing where it is on no record, or nobody can be asked.
const recordOf = (phone, envelope) => phone.service.get(`/envelopes/${envelope}`).then((answer) => answer.told, () => ({}));
