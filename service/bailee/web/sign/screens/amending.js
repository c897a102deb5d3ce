// To correct a fact of an entry, and to allow a finding by exception. The old value stays on record; an exception needs a
// second person, and the ledger is asked first whether it would count.

import { digest } from "../core/bytes.js";
import { contradiction, corrected, factsOf, value, withValue } from "../core/corrections.js";
import { faults } from "../core/facts.js";
import { lengthText } from "../core/measures.js";
import { clockText, isZone } from "../core/moments.js";
import { grouped, kindOf } from "../core/numbers.js";
import * as slips from "../core/slips.js";
import { lotNamed } from "../core/visits.js";
import { askedBack } from "../parts/asked_back.js";
import { el, note, number as printed, numberAt } from "../parts/el.js";
import { ask, line, picks, several, yesNo } from "../parts/fields.js";
import { alarm, button, link } from "../parts/frame.js";
import { degrees, pressure } from "../parts/air.js";
import { code, count, day, decimal, free, label, length, moment, organization, run, tag } from "../parts/kinds.js";
import { elements, signing } from "../parts/signing.js";
import { found } from "./visit.js";

const RUNS = ["run_s", "planned_s"];
const LENGTHS = ["height_m", "distance_m", "near_m", "tube_m"];
const MOMENTS = ["started", "stopped", "since", "until", "at", "notice_sent", "handed_over", "expected", "expected_delivery"];
const NUMBERS = { sample: "sample", duplicate_of: "sample", replaces: "sample", replaces_form: "form", lot: "lot", envelope: "envelope" };
const ORGANIZATIONS = ["lab", "firm", "to"];
const DECIMALS = /^(flow_(before|after)|gps_distance_m|tube_mm|.*_(h|h_ago))$/;
const DAYS = ["visit", "valid_to", "due"];
const LEFT_OUT = ["to_kid", "firm"]; // a key is nothing to type, and an organization signs for itself
const FIXED = ["corrected", "excepted", "affirmed", "witnessed"];

const last = (name) => name.split(".").pop();
const nameOf = ({ words, say }, name) => words[words.facts[last(name)]] ?? words.facts[last(name)] ?? say(last(name));

export function correct(context, rest) {
  const [form, number, statement, name] = rest.split("/");
  if (name) return oneFact(context, form, number, statement, name);
  return number ? facts(context, form, number) : things(context, form);
}

async function things(context, form) {
  const { words, phone, go } = context;
  const about = await found(phone, form);
  if (!about) return go("home");
  const row = (number, said) => el("li", {}, el("a", { href: `#correct/${form}/${number}` }, numberAt(grouped(number), number === form && about.site), el("span", {}, said)));
  const samples = [...about.samples.values()].map((each) => row(each.number, each.kind ? context.say(each.kind, "kind") : ""));
  return {
    title: words.correct,
    body: [el("p", {}, words.correctText), el("ul", { class: "rows" }, row(form, words.correctVisit), ...samples)],
    bar: [link(words.back, `#visit/${form}`)],
  };
}

// The entries about a number as they count now: {id, act, data, by, whyNot(name)}. What this phone said is known without
// a network too; what others said is not. What waits is looked up before the ledger is asked: recorded meanwhile, it is
// in the answer.
async function entries(phone, form, number) {
  const rows = (await phone.said()).filter((row) => row.chain === `form/${form}`);
  const told = await phone.kept(`/forms/${form}/facts${number === form ? "" : `?about=${number}`}`);
  const isNew = (row) => row.state === "waiting" || row.signed >= told?.at;
  const unknown = rows.filter((row) => row.act === "corrected" && isNew(row)).map((row) => row.data);
  const known = (told?.told.statements ?? []).filter((each) => phone.vocabulary.acts[each.act]).map((each) => {
    const whyNot = new Map(each.facts.filter((fact) => !fact.may).map((fact) => [fact.field, `${fact.why_not}. ${fact.who}`]));
    const mine = unknown.filter((one) => one.statement === each.statement);
    const data = mine.reduce((said, one) => withValue(said, one.field, one.new), each.data);
    return { id: each.statement, act: each.act, data, by: each.by, whyNot: (name) => whyNot.get(name) ?? "" };
  });
  const own = rows.filter((row) => !FIXED.includes(row.act) && isAbout(row, form, number));
  for (const row of own) {
    const id = await digest(row.text);
    if (!known.some((each) => each.id === id)) known.push({ id, act: row.act, data: row.data, by: "", whyNot: () => "" });
  }
  return { known, isWhole: Boolean(told) };
}

function isAbout({ act, data }, form, number) {
  if (number === form) return !["collected", "surface_collected", "voided"].includes(act);
  return data.sample === number || data.samples?.includes(number) || data.items?.some((each) => each.sample === number);
}

// In the order of the table of words, which is that of the screens.
function factsIn({ words, phone }, act) {
  const order = Object.keys(words.facts);
  const at = ({ name }) => (order.indexOf(last(name)) + 1 || order.length + 1);
  return factsOf(phone.vocabulary.acts[act].data).filter((each) => !LEFT_OUT.includes(last(each.name))).sort((one, other) => at(one) - at(other));
}

async function facts(context, form, number) {
  const { words, phone } = context;
  const { known, isWhole } = await entries(phone, form, number);
  const row = (each, fact) => {
    const why = each.whyNot(fact.name);
    const said = [nameOf(context, fact.name), el("span", {}, shown(context, fact.name, value(each.data, fact.name)))];
    const href = `#correct/${form}/${number}/${each.id}/${fact.name}`;
    return el("li", {}, ...(why ? [...said, el("p", { class: "soft" }, why)] : [el("a", { href }, ...said)]));
  };
  const list = (each, all) => el("ul", { class: "rows" }, ...all.map((fact) => row(each, fact)));
  const body = known.flatMap((each) => {
    const all = factsIn(context, each.act);
    const isSaid = (fact) => value(each.data, fact.name) !== null;
    const empty = all.filter((fact) => !isSaid(fact) && !each.whyNot(fact.name));
    const more = empty.length ? el("details", {}, el("summary", {}, words.notEntered), list(each, empty)) : null;
    return [el("h2", {}, each.by ? words.entryBy(context.say(each.act), each.by) : context.say(each.act)), list(each, all.filter(isSaid)), more];
  });
  return {
    title: words.correct,
    body: [
      el("p", {}, printed(grouped(number))),
      isWhole ? null : note("warn", words.ownOnly),
      known.length ? null : el("p", {}, words.nothingToCorrect),
      ...body,
    ],
    bar: [link(words.back, `#correct/${form}`)],
  };
}

async function oneFact(context, form, number, statement, name) {
  const { words, phone, go } = context;
  const about = await found(phone, form);
  const each = (await entries(phone, form, number)).known.find((one) => one.id === statement);
  const fact = each && factsIn(context, each.act).find((one) => one.name === name);
  if (!fact || each.whyNot(name)) return go(`correct/${form}/${number}`);
  const before = value(each.data, name);
  const fields = {
    found: asking(context, fact, before, each.data),
    reason: code(context, words.reason, "corrected", "reason"),
    note: free(words, words.note),
  };
  const back = askedBack(words);
  const own = await phone.said();
  const drafted = (said) => {
    if (JSON.stringify(said.found) === JSON.stringify(before)) return void alarm(words.sameAgain);
    const after = withValue(each.data, name, said.found);
    const wrong = contradiction(each.act, after);
    if (wrong) return void alarm(words.contradictions[wrong]);
    const { data: shape } = phone.vocabulary.acts[each.act];
    const missing = faults(shape, Object.fromEntries(Object.entries(after).filter(([, said]) => said !== null)));
    if (missing.length) return void alarm(words.notWhole(missing.map((place) => nameOf(context, place.replaceAll("/", "."))).join(", ")));
    const flow = lotNamed(phone.brief, each.data.lot)?.nominal_flow;
    const [act] = each.act === "collected" ? [[...slips.collected(after, about?.day, flow), ...slips.among(after, form, own)]] : [slips.pressure(after)];
    const early = MOMENTS.includes(last(name)) && said.found ? slips.stillToCome(name, said.found, phone.now()) : [];
    if (!back.settled([...act.filter((one) => one.member === name), ...early])) return null;
    const data = corrected(statement, each.data, name, said.found, said.reason);
    return { chain: `form/${form}`, act: "corrected", data, private: { note: said.note }, zone: about?.zone };
  };
  const body = [
    el("p", {}, printed(grouped(number)), ` ${context.say(each.act)}`),
    el("p", {}, words.standsNow(shown(context, name, before))),
    ...elements(fields),
    back.element,
  ];
  return signing(context, { title: nameOf(context, name), fields, body, text: words.signCorrected, drafted, then: `correct/${form}/${number}` });
}

function shown(context, name, said) {
  const { words, say } = context;
  const member = last(name);
  if (said === null) return words.nothing;
  if (typeof said === "boolean") return said ? words.yes : words.no;
  if (Array.isArray(said)) return said.map((each) => say(each, member)).join(", ") || words.nothing;
  if (RUNS.includes(member)) return clockText(said);
  if (LENGTHS.includes(member)) return words.length(said);
  if (member.endsWith("_c")) return words.warmth(said);
  if (NUMBERS[member]) return grouped(said);
  const isFree = MOMENTS.includes(member) || typeof said === "number" || !/^[a-z_]+$/.test(said);
  return isFree ? String(said).replace("T", " ") : say(said, member);
}

// The question that this fact is, with what stands there to be changed; an empty line says that there is nothing.
function asking(context, { name, shape, isOptional }, before, data) {
  const { words, say } = context;
  const member = last(name);
  const title = words.shouldSay;
  if (shape.enum) {
    const codes = shape.enum.concat(isOptional && before !== null ? [null] : []);
    return picks(words, title, codes, (each) => (each === null ? words.nothing : say(each, member)), { value: before });
  }
  if (shape.items) return several(words, title, shape.items.enum, (each) => say(each, member), { value: before ?? [] });
  if (shape.type === "boolean") return yesNo(words, title, { value: before });
  const old = before === null ? "" : String(before);
  const options = { value: old, isOptional };
  if (RUNS.includes(member)) return run(words, title, { ...options, value: before === null ? "" : clockText(before) });
  if (shape.type === "integer") return count(words, title, options);
  if (LENGTHS.includes(member)) return length(words, title, { ...options, value: old && lengthText(old) });
  if (member.endsWith("_c")) return degrees(words, title, options);
  if (member.endsWith("_hpa")) return pressure(words, title, options);
  if (DECIMALS.test(member)) return decimal(words, title, options);
  if (NUMBERS[member]) return label(words, title, NUMBERS[member], { ...options, value: old && grouped(old) });
  if (ORGANIZATIONS.includes(member)) return organization(words, title, options);
  if (MOMENTS.includes(member)) {
    const offset = (before ?? data.started ?? data.at ?? data.since ?? "").slice(19) || "+00:00";
    return moment(words, title, offset, { ...options, value: old.slice(0, 19).replace("T", " ") });
  }
  if (DAYS.includes(member)) return day(words, title, options);
  if (member === "zone") return line(words, title, { ...options, read: zoneOf, wrong: () => words.zoneWrong });
  return tag(words, title, options);
}

function zoneOf(text) {
  if (!isZone(text)) throw new Error("zone");
  return text;
}

// What the rules found of a form and a second person may allow: by the service's newest word. What is so of several
// samples is said once, and allowed for each: the exception names what the finding is about.
export async function allow(context, rest) {
  const [form, rule, about] = rest.split("/");
  const { words, phone } = context;
  const told = await phone.kept(`/forms/${form}`);
  const may = (each) => phone.vocabulary.exceptions[each.rule] && !each.excepted;
  const findings = (told?.told.findings ?? []).filter(may);
  const chosen = rule ? findings.filter((each) => each.rule === rule && thingsOf(each).join() === about) : [];
  if (chosen.length) return oneException(context, form, chosen);
  const rows = findings.map((each) => el("li", {}, el("a", { href: `#allow/${form}/${each.rule}/${thingsOf(each).join()}` },
    el("span", {}, each.sentence), el("span", { class: "soft" }, words.findingOf(each.rule, context.say(each.severity, "severity"))))));
  return {
    title: words.allow,
    body: [
      el("p", {}, printed(grouped(form))),
      el("p", {}, words.allowText),
      told?.isNow ? null : note("warn", told ? words.asOf(context.when(told.at)) : words.notAsked),
      rows.length ? el("ul", { class: "rows" }, ...rows) : told ? el("p", {}, words.nothingToAllow) : null,
    ],
    bar: [link(words.back, `#visit/${form}`)],
  };
}

const thingsOf = ({ about, samples, acts }) =>
  acts.some((each) => each.act === "excepted" && each.about === null) && samples.length ? samples : [about];
const nameOfThing = (about) => (kindOf(about) ? grouped(about) : about);

// `findings` are those of one rule about the same things. Every number that is signed, and every form on which, is shown.
async function oneException(context, form, findings) {
  const { words, phone, go } = context;
  const [{ rule }] = findings;
  const things = thingsOf(findings[0]);
  const told = await Promise.all(things.map((each) => wouldCount(phone, rule, each, form)));
  const [refused, open] = [told.filter((each) => each.isRefused), told.filter((each) => !each.isRefused)];
  const { reasons } = phone.vocabulary.exceptions[rule];
  const fields = {
    reason: code(context, words.allowReason, "excepted", "reason", { but: reasons.length ? codesBut(phone, reasons) : [] }),
    note: free(words, words.note),
  };
  const drafted = (reason, text) => open.flatMap(({ about, forms }) =>
    forms.map((each) => ({ chain: `form/${each}`, act: "excepted", data: { rule, about, reason }, private: { note: text } })));
  const sign = async () => {
    const said = ask(fields);
    if (said && (await context.sign(...drafted(said.reason, said.note)))) await go("signed");
  };
  const names = (all) => all.map(({ about }) => nameOfThing(about)).join(", ");
  const because = (each) => `${told.length > 1 ? `${names([each])}: ` : ""}${words.wouldNotCount(each.why_not, each.who)}`;
  const unknown = open.find((each) => each.isUnknown);
  const forms = [...new Set(open.flatMap((each) => each.forms))];
  return {
    title: words.allow,
    fields,
    body: [
      el("p", {}, words.findingAbout(rule, names(open.length ? open : told))),
      ...forms.map((each) => el("p", {}, words.formNumber, " ", printed(grouped(each)))),
      ...findings.flatMap(({ sentence, remedy }) => [note("warn", sentence), el("p", { class: "soft" }, remedy)]),
      ...refused.map((each) => note("stop", because(each))),
      unknown ? note("warn", unknown.sentence || words.notAskedCounts) : null,
      open.some((each) => each.holds) ? note("warn", words.allowHolds) : null,
      ...(open.length ? elements(fields) : []),
    ],
    bar: [open.length ? button(words.signExcepted, sign) : null, link(words.back, `#allow/${form}`)],
  };
}

async function wouldCount(phone, rule, about, form) {
  const path = `/exceptions?rule=${rule}&about=${encodeURIComponent(about)}&form=${form}`;
  const unknown = (error) => ({ about, forms: [form], isUnknown: true, sentence: error.code ? error.message : "" });
  return phone.service.get(path).then(({ told }) => ({ ...told, about, isRefused: !told.counts }), unknown);
}

const codesBut = (phone, reasons) => phone.vocabulary.acts.excepted.data.properties.reason.enum.filter((each) => !reasons.includes(each));
