// From hand to hand: relinquish and show a code, read a code and receive; and the second person, who counts and reads
// the numbers. None of it needs a network.

import { digest } from "../core/bytes.js";
import { isOtherForm, readCode, written } from "../core/handover.js";
import { at, zoneHere } from "../core/moments.js";
import { grouped, read as readNumber } from "../core/numbers.js";
import { counted } from "../core/slips.js";
import { COLLECTING, dueOf, heldOf, visits } from "../core/visits.js";
import { screenCode } from "../parts/codes.js";
import { askedBack } from "../parts/asked_back.js";
import { el, note, number as printed, numberAt } from "../parts/el.js";
import { ask, datalist, picks, several } from "../parts/fields.js";
import { alarm, button, link } from "../parts/frame.js";
import { code, count, free, label, moment, organization, wrongNumber } from "../parts/kinds.js";
import { lookedAt } from "../parts/looked_at.js";
import { scanner } from "../parts/scanner.js";
import { elements, signing } from "../parts/signing.js";
import { running } from "./home.js";
import { found } from "./visit.js";

const OTHER = "other";

export async function give(context, form) {
  const { words, phone, go } = context;
  const about = await found(phone, form);
  const held = about ? heldOf(about).map((each) => each.number) : [];
  const runs = await running(words, phone, form);
  const unfinished = runs && [note("warn", words.runsFirst), runs];
  if (!held.length) return { title: words.give, body: [el("p", {}, words.nothingHeld), ...(unfinished ?? [])], bar: [link(words.home, "#home")] };
  const { may } = phone.vocabulary.acts.received;
  const people = (phone.brief?.people ?? []).filter((each) => each.kid !== phone.device.kid && may.includes(each.role));
  const said = (each) => `${each.person || each.kid.slice(0, 8)} (${context.say(each.role)})`;
  const isTwice = (each) => people.filter((other) => said(other) === said(each)).length > 1; // two phones of one person
  const named = new Map(people.map((each) => [each.kid, isTwice(each) ? `${said(each)}, ${each.kid.slice(0, 8)}…` : said(each)]));
  const org = organization(words, words.toOrg, { list: datalist([about.lab].filter(Boolean)) });
  org.element.hidden = true;
  const fields = {
    to: picks(words, words.toWhom, [...named.keys(), OTHER], (kid) => named.get(kid) ?? words.toOther, {
      isWide: true,
      value: people.length === 1 ? people[0].kid : null,
      changed: (kid) => (org.element.hidden = kid !== OTHER),
    }),
    org,
    samples: several(words, words.which, held, grouped, {
      value: held,
      changed: (chosen) => (relinquish.textContent = words.signRelinquished(chosen.length)),
    }),
    purpose: code(context, words.purpose, "relinquished", "purpose", { isOptional: true }),
    count: count(words, words.countByHand, { hint: words.countHint }),
    expected: moment(words, words.expectedThere, at(phone.now(), about.zone).slice(19)),
    note: free(words, words.note),
  };
  const back = askedBack(words);
  const sign = async () => {
    const said = ask(fields);
    if (!said) return;
    const { samples, purpose, expected } = said;
    if (!samples.length) return void alarm(words.choose);
    if (!back.settled(counted(said.count, samples.length))) return;
    const to = said.to === OTHER ? { to: said.org } : { to: phone.device.org, to_kid: said.to };
    const data = { samples, count: said.count, ...to, purpose, expected, at: at(phone.now(), about.zone) };
    const draft = { chain: `form/${form}`, act: "relinquished", data, private: { note: said.note }, zone: about.zone };
    const rows = await context.sign(draft);
    if (rows) await go(`code/${rows[0].seq}`);
  };
  const relinquish = button(words.signRelinquished(held.length), sign);
  return {
    title: words.give,
    fields,
    body: [...(unfinished ?? []), ...elements(fields), back.element],
    bar: [relinquish, link(words.back, `#visit/${form}`)],
  };
}

// What was relinquished, for the phone of whoever receives it.
export async function shownCode(context, seq) {
  const { words, phone } = context;
  const row = await phone.store.find(Number(seq));
  const to = phone.brief?.people.find((each) => each.kid === row.data.to_kid)?.person;
  const told = { form: row.chain.split("/")[1], zone: row.zone, statements: [await digest(row.text)], samples: row.data.samples };
  return codeScreen(context, "take", told, words.codeGive(to));
}

// What was collected here, for the phone of a second person.
export async function shownVisit(context, form) {
  const { words, phone } = context;
  const about = await found(phone, form);
  const mine = (await phone.said()).filter((row) => row.chain === `form/${form}` && COLLECTING.includes(row.act));
  const statements = await Promise.all(mine.map((row) => digest(row.text)));
  const told = { form, zone: about.zone, statements, samples: mine.map((row) => row.data.sample) };
  if (!mine.length) return { title: words.codeTitle, body: [el("p", {}, words.noSamples)], bar: [link(words.back, `#visit/${form}`)] };
  return codeScreen(context, "see", told, words.codeSee);
}

function codeScreen({ words, phone }, kind, told, sentence) {
  const { origin, person } = phone.device;
  const address = `${location.origin}/sign/`;
  const text = written(address, kind, { ...told, origin, person: phone.standing.person || person });
  const numbers = el("ul", { class: "rows" }, ...told.samples.map((each) => el("li", {}, el("span", { class: "number" }, grouped(each)))));
  return {
    title: words.codeTitle,
    body: [el("p", {}, sentence), screenCode(text, words.codeImage), numbers],
    bar: [link(words.codeDone, `#visit/${told.form}`, false)],
  };
}

// By a code, of a form whose number is given, or from what was relinquished to this key.
export async function take(context, given) {
  const { words, phone, go } = context;
  const remembered = async () => visits(await phone.said(), phone.brief, phone.device.kid);
  let known = await remembered();
  const toMe = () => known.map((each) => ({ ...each, samples: dueOf(each) })).filter((each) => each.samples.length);
  const waiting = toMe();
  const isForm = known.some((each) => each.form === given);
  const only = waiting.length === 1 ? waiting[0] : null;
  const told = given && !isForm ? readGiven(context, given, "take", known) : isForm ? waiting.find((each) => each.form === given) : only;
  if (told?.wrong) return { title: words.take, body: [note("stop", told.wrong)], bar: [link(words.home, "#home")] };
  const byCode = told?.statements ? told : null;
  const formOf = (sample) => (told?.samples.includes(sample) ? told : known.find((each) => each.samples.has(sample)) ?? byCode)?.form ?? null;
  const formsOf = (samples) => [...new Set(samples.map(formOf))];
  const form = label(words, words.formNumber, "form", { hint: words.formUnknown });
  const typed = label(words, words.number, "sample", { hint: words.numberHint, isOptional: true });
  const lies = lookedAt(context);
  const named = () => [...lies.conditions.keys()];
  const intact = button(words.allIntact, lies.allIntact, { second: true });
  const drawn = () => {
    form.element.hidden = !formsOf(named()).includes(null);
    intact.hidden = named().length < 2;
    sign.textContent = words.signReceived(named().length);
  };
  lies.element.addEventListener("change", drawn);
  // What was relinquished after this device last asked.
  const learn = async () => {
    await phone.sync();
    known = await remembered();
    if (!context.isShown()) return;
    if (!named().length && toMe().length) await go("take");
    else drawn();
  };
  if (!told) setTimeout(() => waiting.length || learn(), 0);
  const add = (sample) => {
    if (formsOf([...named(), sample]).filter(Boolean).length > 1) return void alarm(words.takeOneForm);
    alarm("");
    lies.add(sample);
    if (formOf(sample) === null) learn();
  };
  const scanned = (text) => {
    const code = text.match(/\/sign\/#take\/([A-Za-z0-9_-]+)$/);
    if (code) return void go(`take/${code[1]}`);
    try {
      add(readNumber(text, "sample"));
      typed.input.value = "";
    } catch (error) {
      alarm(wrongNumber(words, error));
    }
  };
  typed.input.addEventListener("change", () => typed.input.value.trim() && scanned(typed.input.value));
  context.typed(scanned);
  const fields = {
    form,
    purpose: code(context, words.purpose, "received", "purpose", { isOptional: true }),
    count: count(words, words.countByHand, { hint: words.countHint }),
    note: free(words, words.note),
  };
  const back = askedBack(words);
  const receive = async () => {
    if (!named().length) return void alarm(words.needed);
    const found = lies.answer();
    const said = found && ask(fields);
    if (!said || !back.settled(counted(said.count, found.size))) return;
    const [number, ...others] = new Set(named().map((sample) => formOf(sample) ?? said.form));
    if (others.length) return void alarm(words.takeOneForm);
    const zone = told?.zone ?? known.find((each) => each.form === number)?.zone ?? zoneHere();
    const items = [...found].map(([sample, condition]) => ({ sample, condition }));
    const data = { items, count: said.count, purpose: said.purpose, at: at(phone.now(), zone) };
    const draft = { chain: `form/${number}`, act: "received", data, refs: told?.statements, private: { note: said.note }, zone };
    if (await context.sign(draft)) await go(`visit/${number}`);
  };
  const sign = button("", receive);
  for (const each of told?.samples ?? []) add(each);
  drawn();
  return {
    title: words.take,
    fields: { lies, ...fields },
    body: [
      el("p", {}, byCode ? words.takeFrom(told.person) : told ? words.takeExpected : words.takeText),
      told ? el("p", {}, words.formNumber, " ", numberAt(grouped(told.form), known.find((each) => each.form === told.form)?.site)) : null,
      ...(told ? [] : waits(words, waiting)),
      scanner(words, scanned).element,
      typed.element,
      form.element,
      lies.element,
      intact,
      ...["purpose", "count", "note"].map((name) => fields[name].element),
      back.element,
    ],
    bar: [sign, link(words.home, "#home")],
  };
}

function waits(words, waiting) {
  const rows = waiting.map(({ form, site, samples }) =>
    el("li", {}, el("a", { href: `#take/${form}` }, numberAt(grouped(form), site), el("span", {}, words.samplesHere(samples.length)))));
  return rows.length ? [el("h2", {}, words.takeWaits), el("ul", { class: "rows" }, ...rows)] : [];
}

// Every number that was read, the count, and what was watched: nothing is preset.
export async function see(context, given) {
  const { words, phone } = context;
  const known = visits(await phone.said(), phone.brief, phone.device.kid);
  const told = readGiven(context, given, "see", known);
  if (told.wrong) return { title: words.seeTitle, body: [note("stop", told.wrong)], bar: [link(words.home, "#home")] };
  const own = new Set(await Promise.all((await phone.said()).map((row) => digest(row.text))));
  if (told.statements.some((each) => own.has(each))) {
    return { title: words.seeTitle, body: [note("stop", words.seeOwn)], bar: [link(words.home, "#home")] };
  }
  const fields = {
    read: several(words, words.seeAll, told.samples, grouped),
    count: count(words, words.countByHand, { isOptional: false }),
    note: free(words, words.note),
  };
  const drafted = (said) => {
    const counted = [said.count, said.read.length];
    if (counted.some((each) => each !== told.samples.length)) return void alarm(words.countDiffers(...counted));
    const data = { statements: told.statements, samples: said.read, count: said.count };
    return { chain: `form/${told.form}`, act: "witnessed", data, private: { note: said.note } };
  };
  const body = [
    el("p", {}, words.seeText(told.person, told.samples.length)),
    el("p", {}, words.formNumber, " ", printed(grouped(told.form))),
    ...elements(fields),
  ];
  return signing(context, { title: words.seeTitle, fields, body, text: words.signWitnessed, drafted, then: "signed", back: "home" });
}

function readGiven({ words, phone }, given, kind, known) {
  try {
    const told = readCode(given, kind);
    if (told.origin !== phone.device.origin) return { wrong: words.codeElsewhere };
    return isOtherForm(told, known) ? { wrong: words.codeOtherForm } : told;
  } catch {
    return { wrong: words.codeWrong };
  }
}
