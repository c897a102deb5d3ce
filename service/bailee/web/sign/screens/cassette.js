// One cassette: which and where, the run of the pump, what was read after it, and the signature under all of it.

import { volume } from "../core/measures.js";
import { at, clockText, dayAt } from "../core/moments.js";
import { grouped } from "../core/numbers.js";
import { contradiction } from "../core/corrections.js";
import { present } from "../core/facts.js";
import { lotNamed, lotOf, stateOfLot, visits } from "../core/visits.js";
import * as slips from "../core/slips.js";
import { again, collectedAgain } from "../parts/again.js";
import { askedBack } from "../parts/asked_back.js";
import { el, note, number } from "../parts/el.js";
import { ask, datalist, folded, refuse, several, yesNo } from "../parts/fields.js";
import { alarm, button, link, uncover } from "../parts/frame.js";
import { code, codesOf, decimal, free, label, length, run, tag } from "../parts/kinds.js";
import { picture } from "../parts/picture.js";
import { intoField } from "../parts/scanner.js";

const CAVITY = ["opening", "tube", "tube_m", "tube_mm", "purge_s", "side"];
const INDOOR = "indoor";
const KEPT = ["pump", "meter", "height_m", "planned"]; // Last answers that are safe to offer again: they are seen on site.

// `given` is the form, and the number of a label that was scanned on the screen of the visit.
export async function cassette(context, given) {
  const { words, phone, go } = context;
  const [form, read = null] = given.split("/");
  const visit = visits(await phone.said(), phone.brief, phone.device.kid).find((each) => each.form === form);
  if (!visit) return go("home");
  const last = (await phone.store.recall("last")) ?? {};
  const runs = (await phone.store.drafts()).filter((each) => each.started);
  const isNext = last.point?.form === form && last.point.kind === INDOOR; // most follow one of their kind
  if (slips.pumpRuns(last, runs).length) last.pump = null; // it is on another cassette
  const told = el("div", { role: "status" });
  const lot = label(words, words.lot, "lot", {});
  lot.element.hidden = true;
  let entered = "typed";
  const sample = label(words, words.number, "sample", { hint: words.numberHint });
  const meet = () => {
    const found = sample.input.value.trim() ? sample.answer() : null;
    const known = found ? lotOf(phone.brief, found) : null;
    lot.element.hidden = !found || Boolean(known);
    const isRunning = runs.some((each) => each.sample === found);
    told.replaceChildren(...(isRunning ? [link(words.toRun, `#run/${found}`)] : found ? [ofLot(words, phone, known, visit)] : []));
    if (isRunning) sample.fault(words.runNotSigned);
    if (known && !fields.planned.input.value) fields.planned.input.value = clockText(known.run_s);
    if (found && visit.samples.has(found)) alarm(words.twice);
  };
  sample.input.addEventListener("change", meet);
  sample.input.addEventListener("input", () => (entered = "typed"));
  const outdoors = el("div", { hidden: true });
  const indoors = el("div", { hidden: true });
  const air = el("div", {});
  const reason = code(context, words.spaceReason, "collected", "space_reason", { isOptional: true });
  const unconditioned = el("div", { hidden: true }, note("warn", phone.vocabulary.unconditioned), reason.element);
  const part = (title, path) => code(context, title, "collected", `cavity.${path}`, { isOptional: true });
  const cavity = {
    opening: part(words.opening, "opening"),
    tube: part(words.tube, "tube"),
    tube_m: length(words, words.tubeLength),
    tube_mm: decimal(words, words.facts.tube_mm),
    purge_s: run(words, words.purged, { isOptional: true }),
    side: part(words.facts.side, "side"),
  };
  const inWall = el("div", { hidden: true }, note("warn", phone.vocabulary.opening), ...Object.values(cavity).map((each) => each.element));
  const instruments = (kind) => datalist((phone.brief?.instruments ?? []).filter((each) => each.kind === kind).map((each) => each.id));
  const changed = (kind) => {
    outdoors.hidden = kind !== "outdoor";
    indoors.hidden = kind !== INDOOR;
    air.hidden = kind === "blank";
    start.textContent = kind === "blank" ? words.next : words.startPump;
  };
  const choice = (title, path, options = {}) => code(context, title, "collected", path, { isOptional: true, ...options });
  const fields = {
    sample,
    lot,
    kind: code(context, words.kind, "collected", "kind", { changed, value: isNext ? INDOOR : null }),
    area: choice(words.area, "area"),
    room: choice(words.room, "room", { changed: (room) => (inWall.hidden = room !== "wall_cavity") }),
    ...cavity,
    space: choice(words.space, "space", { changed: (space) => (unconditioned.hidden = space === "conditioned") }),
    space_reason: reason,
    distance_m: length(words, words.distance),
    sky: choice(words.sky, "weather.sky", { isOptional: false }),
    wind: choice(words.wind, "weather.wind", { isOptional: false }),
    snow_cover: yesNo(words, words.snow, { isOptional: true }),
    mowing: yesNo(words, words.mowing, { isOptional: true }),
    point: tag(words, words.point, { value: last.point?.form === form ? following(last.point.text) : "" }),
    place: free(words, words.place),
    height_m: length(words, words.height, { value: last.height_m ?? "" }),
    near: several(words, words.near, codesOf(phone.vocabulary, "collected", "near"), (each) => context.say(each)),
    near_m: length(words, words.nearDistance),
    photo: picture(context, words.picture, form, () => fields.point.input.value.trim()),
    serial: tag(words, words.serial),
    duplicate_of: label(words, words.duplicateOf, "sample", { isOptional: true }),
    duplicate: choice(words.duplicate, "duplicate"),
    ...again(words),
    pump: tag(words, words.pump, { value: last.pump ?? "", list: instruments("pump") }),
    meter: tag(words, words.meter, { value: last.meter ?? "", list: instruments("meter") }),
    flow_before: decimal(words, words.flowBefore),
    planned: run(words, words.planned, { value: last.planned ?? "", isOptional: true }),
  };
  const element = (name) => fields[name].element;
  outdoors.append(...["distance_m", "sky", "wind", "snow_cover", "mowing"].map(element));
  indoors.append(...["area", "room"].map(element), inWall, element("space"), unconditioned);
  air.append(...["height_m", "near", "near_m", "pump", "meter", "flow_before", "planned"].map(element));
  const begin = async () => {
    meet();
    const said = ask(fields);
    if (!said) return;
    const known = lotOf(phone.brief, said.sample);
    if (runs.some((each) => each.sample === said.sample)) return void refuse(sample, words.runNotSigned);
    const own = await phone.said();
    const found = [...slips.again(said.sample, own), ...slips.visitClosed(visit), ...slips.lotOfAnotherKind(said.sample, known?.nominal_flow, false),
      ...slips.beside({ ...said, lot: known?.lot ?? said.lot }, form, own), ...slips.among(said, form, own), ...slips.pumpRuns(said, runs), ...slips.setUp(said, known?.nominal_flow)];
    if (!back.settled(found)) return;
    const replaced = said.replaces || said.replaces_form ? await collectedAgain(context, fields, said, form) : {};
    if (!replaced) return;
    const isBlank = said.kind === "blank";
    const draft = { ...said, ...replaced, form, zone: visit.zone, day: visit.day, lot: known?.lot ?? said.lot, entered, started: isBlank ? null : phone.now(), opened: phone.now() };
    const typed = (name) => fields[name].input.value.trim();
    await phone.store.remember("last", { ...last, point: { form, kind: said.kind, text: said.point ?? "" }, ...Object.fromEntries(KEPT.map((name) => [name, typed(name) || last[name]])) });
    await phone.store.remember(`draft/${said.sample}`, draft);
    await context.drop();
    await go(`${isBlank ? "close" : "run"}/${said.sample}`);
  };
  const back = askedBack(words);
  const start = button(words.startPump, begin);
  const camera = intoField(words, sample, context, () => (entered = "scan"));
  if (isNext) changed(INDOOR);
  if (read) {
    sample.put(read);
    entered = "scan";
  }
  return {
    title: words.cassetteTitle,
    fields: { ...fields, entered: { kept: () => entered, put: (how) => (entered = how) } },
    body: [camera.element, ...["sample"].map(element), told, element("lot"), element("kind"), indoors, outdoors,
      ...["point", "place", "photo", "serial"].map(element), air,
      folded(words.more, ...["duplicate_of", "duplicate", "replaces", "replaces_form"].map(element)), back.element],
    bar: [start],
  };
}

// P2 after P1: the next point of a sketch, as it is usually marked.
const following = (point) => (/\d$/.test(point) ? point.replace(/\d{1,9}$/, (n) => String(Number(n) + 1)) : "");

function ofLot(words, phone, lot, visit) {
  if (!lot) return note("warn", words.lotUnknown);
  const { state, usableTo } = stateOfLot(lot, dayAt(phone.now(), visit.zone), phone.brief.policy.expiry_grace_days);
  const name = grouped(lot.lot);
  if (state === "recalled") return note("stop", words.lotRecalled(name));
  if (state === "expired") return note("stop", words.lotExpired(name, lot.expires));
  if (state === "in grace") return note("warn", words.lotInGrace(name, lot.expires, usableTo));
  return state === "undated" ? note("warn", words.lotNoDate(name)) : note("good", words.lotInDate(name, lot.expires));
}

export async function running(context, sample) {
  const { words, phone, go, isShown } = context;
  const draft = await phone.store.recall(`draft/${sample}`);
  if (!draft) return go("home");
  if (draft.stopped) return go(`close/${sample}`); // the pump stands: only the signature is wanting
  const planned = draft.planned;
  const timer = el("p", { class: "timer", role: "timer" });
  const over = el("p", { class: "soft" }, planned ? words.plannedFor(clockText(planned)) : "");
  const aloud = el("p", { class: "aside", role: "status" });
  let lock = null;
  const tick = () => {
    if (!isShown()) {
      lock?.release?.().catch(() => null);
      return;
    }
    const elapsed = Math.max(0, (phone.now() - draft.started) / 1000);
    timer.textContent = clockText(elapsed);
    if (planned && elapsed > planned) over.textContent = words.over;
    if (Math.floor(elapsed) % 60 === 0) aloud.textContent = words.minutes(Math.floor(elapsed / 60));
    setTimeout(tick, 250);
  };
  setTimeout(tick, 0);
  navigator.wakeLock?.request("screen").then((got) => (lock = got), () => null);
  const stop = async () => {
    await phone.store.remember(`draft/${sample}`, { ...draft, stopped: phone.now() });
    await go(`close/${sample}`);
  };
  return {
    title: words.running,
    body: [el("p", {}, number(grouped(sample))), timer, over, el("p", {}, words.keepBack), aloud],
    bar: [button(words.stopPump, stop), button(words.addCassette, () => go(`cassette/${draft.form}`), { second: true })],
  };
}

export async function close(context, sample) {
  const { words, phone, go } = context;
  const draft = await phone.store.recall(`draft/${sample}`);
  if (!draft) return go("home");
  const isBlank = draft.kind === "blank";
  const elapsed = isBlank ? 0 : Math.floor((draft.stopped - draft.started) / 1000);
  const liters = el("p", { role: "status" });
  const choice = (title, path) => code(context, title, "collected", path, { isOptional: true });
  const fields = {
    run_s: run(words, words.ran, { value: clockText(elapsed) }),
    flow_after: decimal(words, words.flowAfter),
    covers_on: yesNo(words, words.covers),
    dust: choice(words.dust, "dust"),
    short_run: choice(words.shortRun, "short_run"),
    pump_stop: choice(words.pumpStop, "pump_stop"),
    note: free(words, words.note),
  };
  const drawn = () => {
    const [seconds, after] = [fields.run_s.answer(), fields.flow_after.answer()];
    const flows = [draft.flow_before, after].filter(Boolean);
    const found = seconds === undefined || after === undefined ? null : volume(flows, seconds);
    liters.textContent = found ? words.volume(found) : words.noVolume;
  };
  for (const each of [fields.run_s, fields.flow_after]) each.input.addEventListener("input", drawn);
  const pumped = isBlank ? [] : [fields.run_s.element, fields.flow_after.element, liters];
  const rest = isBlank ? [] : [fields.dust.element, fields.short_run.element, fields.pump_stop.element];
  const sign = async () => {
    const said = ask(isBlank ? { covers_on: fields.covers_on, note: fields.note } : fields);
    if (!said) return;
    const drafted = collected(draft, isBlank ? { ...said, run_s: 0 } : said);
    const wrong = contradiction(drafted.act, drafted.data);
    if (wrong) return void refuse(fields.run_s, words.contradictions[wrong]);
    const flow = lotNamed(phone.brief, draft.lot)?.nominal_flow;
    if (!back.settled(slips.afterRun(drafted.data, draft.day, flow))) return;
    if (await context.sign({ ...drafted, done: [`draft/${sample}`] })) await go(`visit/${draft.form}`);
  };
  const back = askedBack(words);
  const goOn = async () => {
    await phone.store.remember(`draft/${sample}`, { ...draft, stopped: undefined });
    await context.drop();
    await go(`run/${sample}`);
  };
  const still = isBlank ? "" : button(words.stillRuns, goOn, { second: true });
  const sure = el("div", { hidden: true }, el("p", {}, words.cancelAsk), button(words.yes, async () => {
    await phone.store.forget(`draft/${sample}`);
    await context.drop();
    await go(`visit/${draft.form}`);
  }, { second: true }));
  if (!isBlank) setTimeout(drawn, 0);
  return {
    title: words.closeTitle,
    fields,
    body: [el("p", {}, number(grouped(sample))), ...pumped, fields.covers_on.element, folded(words.more, ...rest, fields.note.element), still, back.element, sure],
    bar: [button(words.signCollected, sign), button(words.cancelRun, () => uncover(sure), { second: true })],
  };
}

// As `bailee collect` says it.
function collected(draft, said) {
  const weather = draft.kind === "outdoor" ? { sky: draft.sky, wind: draft.wind } : null;
  if (weather) for (const name of ["snow_cover", "mowing"]) if (typeof draft[name] === "boolean") weather[name] = draft[name];
  const cavity = present(Object.fromEntries(CAVITY.map((name) => [name, draft[name]])));
  const data = {
    sample: draft.sample,
    lot: draft.lot,
    kind: draft.kind,
    started: at(draft.started ?? draft.opened, draft.zone),
    run_s: said.run_s,
    covers_on: said.covers_on,
    entered: draft.entered,
    weather,
    cavity: draft.kind === "indoor" && Object.keys(cavity).length ? cavity : null,
    planned_s: draft.planned ?? null,
    stopped: draft.stopped ? at(draft.stopped, draft.zone) : null,
  };
  const noted = ["serial", "point", "room", "space", "space_reason", "area", "near", "near_m", "height_m", "distance_m", "duplicate_of", "duplicate", "replaces", "replaces_form"];
  for (const name of [...noted, "pump", "meter", "flow_before", "photo"]) data[name] = draft[name] ?? null;
  for (const name of ["flow_after", "dust", "short_run", "pump_stop"]) data[name] = said[name] ?? null;
  const secret = { place: draft.place, note: said.note };
  return { chain: `form/${draft.form}`, act: "collected", data, private: secret, zone: draft.zone };
}
