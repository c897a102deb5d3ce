// The app: which screen is shown, who may come to it, and when it asks the service.

import { NotKept, Stopped } from "./core/outbox.js";
import { NotKnown } from "./core/facts.js";
import { dated } from "./core/moments.js";
import { areKept, register } from "./memory/files.js";
import { Unusable } from "./memory/store.js";
import { alarm, button, fitBar, say as saying, show, strip } from "./parts/frame.js";
import { el } from "./parts/el.js";
import { listen } from "./parts/typing.js";
import { Unsigned } from "./parts/unsigned.js";
import { MayNot, Phone } from "./phone.js";
import { home, signed } from "./screens/home.js";
import { change, newKey } from "./screens/new_key.js";
import { ended, failed, lost, memory, privateWindow, stopped } from "./screens/trouble.js";
import { vocabulary } from "./vocabulary.js";
import { words } from "./words.js";

const others = () => import("./screens/cassette.js");
const desk = () => import("./desk/packing.js");
const ofTheDesk = () => import("./desk/vocabulary.js");
// Of these modules none runs before its first screen is shown: every start would wait for all of them.
const SCREENS = {
  home,
  signed,
  ...later(() => import("./screens/visit.js"), { visit: "visit", secure: "secure", void: "voiding", "rule-out": "rulingOut" }),
  ...later(() => import("./screens/on_site.js"), { conditions: "conditions", changed: "changed" }),
  ...later(() => import("./screens/surface.js"), { surface: "surface" }),
  ...later(() => import("./screens/requesting.js"), { request: "requesting" }),
  ...later(() => import("./screens/begin.js"), { begin: "begin", opening: "opening" }),
  ...later(others, { cassette: "cassette", run: "running", close: "close" }),
  ...later(() => import("./screens/hand.js"), { give: "give", code: "shownCode", show: "shownVisit", take: "take", see: "see" }),
  ...later(() => import("./screens/people.js"), { ask: "letIn", phones: "phones", end: "end" }),
  ...later(() => import("./screens/amending.js"), { correct: "correct", allow: "allow" }),
  ...later(() => import("./screens/office.js"), { plan: "plan", kit: "kit", chase: "chase" }),
  ...later(() => import("./screens/courier.js"), { carry: "carry" }),
  ...atDesk(desk, { pack: "pack", sealed: "sealed" }),
  ...atDesk(() => import("./desk/shipping.js"), { ship: "ship" }),
  ...atDesk(() => import("./desk/receiving.js"), { dock: "dock" }),
  ...atDesk(() => import("./desk/opening.js"), { reopen: "reopen", "take-in": "takeIn" }),
  ...atDesk(() => import("./desk/deciding.js"), { decide: "decide", accept: "accept" }),
  ...atDesk(() => import("./desk/storing.js"), { stores: "stores" }),
  ...atDesk(() => import("./desk/lots.js"), { lots: "lots" }),
  ...atDesk(() => import("./desk/lot.js"), { recall: "recall" }),
  ...atDesk(() => import("./desk/hours.js"), { hours: "hours" }),
  ...atDesk(() => import("./desk/limits.js"), { limits: "limits" }),
  ...later(() => import("./screens/affirming.js"), { affirm: "affirm" }),
  ...later(() => import("./screens/pictures.js"), { pictures: "pictures" }),
};
const { asking } = later(() => import("./screens/enrolling.js"), { asking: "asked" });
const LATE_MS = 15_000; // as `.late` in app.css
const TELLING = ["", "home", "visit", "signed"];
const edition = document.querySelector("meta[name=bailee-edition]").content;
const phone = new Phone(vocabulary);
const unsigned = new Unsigned(phone);
let [shown, typed, update] = [0, null, null];
const early = []; // scans that came while a screen waited for an answer: it takes them as soon as it stands
const wait = (text) => early.push(text);
let isExpected = true; // somebody waits for a screen: the next one is no quiet one, whoever asked for it
let [state, isWhole] = [null, null]; // nobody knows before the memory and the worker have answered

// Screens by name, of the functions of a module; with their sentences.
function later(load, names) {
  const sentences = () => import("./screens/words.js");
  const shown = (name) => async (...given) => (await Promise.all([load(), sentences()]))[0][name](...given);
  return Object.fromEntries(Object.entries(names).map(([screen, name]) => [screen, shown(name)]));
}

// Those of the desk, which sign acts of which a phone knows only whose they are.
function atDesk(load, names) {
  const both = () => Promise.all([load(), ofTheDesk()]).then(([screens, told]) => {
    Object.assign(vocabulary.acts, told.vocabulary.acts);
    return screens;
  });
  return later(both, names);
}

const say = (code, member = null) => vocabulary.words[member]?.[code] ?? String(code).replaceAll("_", " ");

// What each screen is given. `isShown` says whether it still is; `typed` takes what a scanner types.
function context(mine) {
  return {
    words, phone, say, when: dated, go, edition, update, isWhole,
    isShown: () => mine === shown,
    again: start,
    asked: location.hash.match(/^#join\/([a-z0-9-]+)$/)?.[1],
    typed: (take) => mine === shown && (typed = take),
    sign: (...drafts) => sign(drafts),
    drop: () => unsigned.drop(),
    unsigned,
  };
}

// The rows kept, or nothing and the reason on the screen. A memory that answers nothing leaves open whether they are.
async function sign([first, ...others]) {
  const late = setTimeout(() => alarm(words.signsLate), LATE_MS);
  const name = await unsigned.pause();
  let rows = null;
  try {
    const done = [name, ...(first.done ?? [])].filter(Boolean);
    rows = await phone.sign({ ...first, done }, ...others);
    alarm("");
    saying(words.signedKept(rows.map((row) => say(row.act)).join(", ")));
    return rows;
  } catch (error) {
    if (error instanceof Stopped) await stop(error.why);
    else if (error instanceof NotKnown) alarm(words.notKnown(error.places.join(", ")));
    else if (error instanceof MayNot) alarm(`${error.message} ${words.notSigned}`);
    else if (error instanceof NotKept || error instanceof Unusable) alarm(`${words.notKeptTitle}. ${words.notKept}`);
    else throw error;
    return null;
  } finally {
    if (!rows) unsigned.goOn(name);
    clearTimeout(late);
  }
}

async function go(where) {
  if (location.hash === `#${where}`) await route();
  else location.hash = where; // and `hashchange` shows it
}

// `quietly`: what was sent or loaded meanwhile is shown, on screens that ask nothing.
async function route({ quietly = false } = {}) {
  if (quietly && !TELLING.includes(location.hash.slice(1).split("/")[0])) return;
  isExpected ||= !quietly;
  const mine = (shown += 1);
  typed = wait;
  const telling = told(); // the strip stands with the screen, and both are laid out once
  const screen = await filled(context(mine)).catch((error) => {
    if (error instanceof Unusable) return memory(context(mine), error.code);
    console.error(error);
    return failed(context(mine));
  });
  if (screen && mine === shown) {
    show(screen, { quietly: !isExpected });
    isExpected = false;
    if (typed === wait) typed = null;
    for (const text of early.splice(0)) typed?.(text);
  }
  await telling;
}

// The screen, with what was typed on it before and is not signed.
async function filled(here) {
  const where = location.hash.slice(1);
  const screen = await chosen(here);
  const since = await unsigned.begin(where, screen?.fields, here.isShown);
  if (!since) return screen;
  const empty = async () => {
    await unsigned.drop();
    await route();
  };
  const told = [el("p", { class: "soft" }, words.typedBefore(sinceText(since))), button(words.typedDrop, empty, { second: true })];
  return { ...screen, body: [...told, ...screen.body] };
}

// `09:12`, or with the day where it is another.
function sinceText(ms) {
  const [then, now] = [dated(ms), dated(phone.now())];
  return then.slice(0, 10) === now.slice(0, 10) ? then.slice(11, 16) : then.slice(0, 16);
}

async function chosen(here) {
  if (!state) return null;
  const [name, ...rest] = location.hash.slice(1).split("/");
  if (state === "private") return privateWindow(here);
  if (!phone.device) return state === "lost" && name !== "new" ? lost(here) : newKey(here);
  const why = await phone.store.stopped();
  if (why && name !== "signed") return stopped(here, why);
  if (!phone.standing) return name === "change" ? change(here) : asking(here);
  if (phone.standing.end && name !== "signed") return ended(here);
  return (SCREENS[name] ?? home)(here, rest.join("/"));
}

const stop = (why) => (why.code === "ended" ? show(ended(context(shown))) : show(stopped(context(shown), why)));

// The strip follows the service's last answer.
async function told() {
  if (!phone.device) return;
  const rows = await phone.store.all().catch(() => []);
  const many = (name) => rows.filter((row) => row.state === name).length;
  const wrong = phone.service.wrongBy ? words.clockWrong(Math.round(Math.abs(phone.service.wrongBy) / 60)) : "";
  strip(words, { isThere: phone.isThere, waiting: many("waiting"), refused: many("refused"), clock: wrong });
}

async function start() {
  try {
    state = await phone.open();
    await route();
    phone.store.first = null; // another tab may write
    await phone.tidy();
    await unsigned.tidy();
  } catch (error) {
    if (!(error instanceof Unusable)) throw error;
    show(memory(context((shown += 1)), error.code));
    return;
  }
  phone.sync();
}

async function keepForOffline() {
  if (!navigator.serviceWorker) return tellWhole(false);
  const hadOne = Boolean(navigator.serviceWorker.controller);
  navigator.serviceWorker.addEventListener("controllerchange", () => hadOne && location.reload());
  askWhole();
  const registration = await register();
  const offer = () => {
    if (!registration.waiting || !navigator.serviceWorker.controller) return;
    update = () => registration.waiting.postMessage("activate");
    route({ quietly: true });
  };
  registration.addEventListener("updatefound", () => registration.installing?.addEventListener("statechange", offer));
  offer();
  await others(); // the file of all other screens is there before a thumb waits for it
  if (phone.standing && phone.isAtDesk()) await desk();
}

// It is said that the app works without a network when the worker says that it has every file, and not before.
const askWhole = () => areKept().then(tellWhole, () => tellWhole(false));

async function tellWhole(is) {
  if (isWhole === is) return;
  isWhole = is;
  await route({ quietly: true });
}

// The ledger told something: what is typed may have to go.
async function tidied(how) {
  await unsigned.tidy();
  await route(how);
}

// The network may be back: it is tried at once, and soon again where it only begins to answer.
function tryAgain() {
  phone.tries = 0;
  phone.sync();
  askWhole();
}

fitBar();
phone.changed = told;
phone.settled = () => tidied({ quietly: true });
phone.alarmed = () => tidied();
listen((text) => {
  if (!typed) return false;
  typed(text);
  return true;
});
for (const each of ["input", "change"]) document.getElementById("main").addEventListener(each, () => unsigned.keep());
addEventListener("hashchange", () => {
  alarm("");
  route();
});
addEventListener("online", tryAgain);
addEventListener("offline", () => phone.heard(false));
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && tryAgain());
await start();
// After the first screen, which it would keep waiting. Nobody waits for the worker: a browser that was killed may take
// long over it, or never come to an end.
keepForOffline().catch(() => isWhole ?? tellWhole(false)); // the app works where there is a network
