// Before there is a key that stands: memory that cannot be used, a key that is lost, a new one, asking to be enrolled.

import { lines } from "../core/fingerprint.js";
import { Unreachable } from "../core/service.js";
import { written } from "../core/request.js";
import { screenCode } from "../parts/codes.js";
import { el, note } from "../parts/el.js";
import { ask, line } from "../parts/fields.js";
import { alarm, button, link, say } from "../parts/frame.js";
import { CannotKeepKeys } from "../phone.js";

const ORGANIZATION = /^[a-z0-9]([a-z0-9-]{0,30}[a-z0-9])?$/;
const ASK_EVERY_MS = 5000;

export function memory({ words, again }, code) {
  const kind = ["blocked", "full"].includes(code) ? code : "broken";
  return {
    title: words[`${kind}Title`],
    body: [note("stop", words[kind])],
    bar: [button(words.again, again)],
  };
}

// A fault of the app: nothing is lost by it, and there is a way out.
export function failed({ words }) {
  return { title: words.failedTitle, body: [note("stop", words.failed)], bar: [link(words.home, "#home")] };
}

export function privateWindow({ words }) {
  return { title: words.privateTitle, body: [note("stop", words.private)] };
}

export async function lost({ words, phone, go }) {
  const kept = await phone.copies.unsent();
  const again = el("div", { hidden: true }, note("warn", words.lostNewAsk), button(words.yes, () => go("new"), { second: true }));
  const send = async () => {
    try {
      const done = await phone.sendCopies();
      say(words.lostSent(done.sent, done.refused.length));
      if (done.refused.length) alarm(done.refused.join(" "));
    } catch (error) {
      if (!(error instanceof Unreachable)) throw error;
      alarm(words.noNetwork);
    }
  };
  return {
    title: words.lostTitle,
    body: [
      note("stop", words.lost),
      el("p", {}, words.lostKey(phone.mark.kid)),
      el("p", {}, kept.length ? words.lostWaiting(kept.length) : words.lostNothing),
      again,
    ],
    bar: [
      kept.length ? button(words.lostSend, send) : null,
      button(words.lostNew, () => (again.hidden = false), { second: true }),
    ],
  };
}

export function newKey({ words, phone, go, asked }) {
  const read = (text) => {
    if (!ORGANIZATION.test(text)) throw new Error("org");
    return text;
  };
  const fields = {
    org: line(words, words.org, { value: asked ?? "", hint: words.orgHint, read, wrong: () => words.orgWrong }),
    person: line(words, words.person, { hint: words.personHint, auto: "name" }),
    name: line(words, words.device, { isOptional: true, hint: words.isPrivate }),
  };
  const isOnIphone = /iPhone|iPad/.test(navigator.userAgent) && !navigator.standalone;
  const make = async () => {
    const answers = ask(fields);
    if (!answers) return;
    try {
      await phone.makeKey({ ...answers, name: answers.name ?? "" });
      await go("asked");
    } catch (error) {
      if (error instanceof CannotKeepKeys) alarm(words.cannot);
      else if (error instanceof Unreachable) alarm(words.noService);
      else throw error;
    }
  };
  return {
    title: words.newTitle,
    body: [
      el("p", {}, words.newText),
      isOnIphone ? note("warn", words.homeScreenFirst) : null,
      ...Object.values(fields).map((each) => each.element),
    ],
    bar: [button(words.makeKey, make)],
  };
}

export async function asked({ words, phone, go, isShown }) {
  const asking = await phone.request();
  const request = `${JSON.stringify(asking, null, 2)}\n`;
  const file = new File([request], `request-${phone.device.kid.slice(0, 8)}.json`, { type: "application/json" });
  const canShare = navigator.canShare?.({ files: [file] }) ?? false;
  const save = () => {
    const address = URL.createObjectURL(file);
    el("a", { href: address, download: file.name }).click();
    setTimeout(() => URL.revokeObjectURL(address), 60_000);
    say(words.askSaved);
  };
  const share = () => navigator.share({ files: [file], title: words.askedTitle }).catch(() => null);
  const look = async () => {
    if (!isShown()) return;
    const standing = await phone.askStanding().catch(() => null);
    if (!isShown()) return;
    if (standing) {
      phone.sync();
      await go("home");
    } else setTimeout(look, ASK_EVERY_MS);
  };
  setTimeout(look, 0);
  return {
    title: words.askedTitle,
    body: [
      el("p", {}, words.askedText),
      el("h2", {}, words.askedKey),
      el("div", { class: "lines", tabindex: "0", role: "group", "aria-label": words.askedKey }, lines(phone.device.kid).join("\n")),
      el("p", { class: "soft" }, words.askWaiting),
      screenCode(written(`${location.origin}/sign/`, asking), words.codeImage),
    ],
    bar: [canShare ? button(words.askShare, share) : null, button(words.askSave, save, { second: canShare })],
  };
}

export function ended({ words, phone }) {
  const { end } = phone.standing;
  return {
    title: words.endedTitle,
    body: [
      end.successor
        ? note("good", words.endedNewPhone(end.last_good_seq))
        : note("stop", words.ended(end.recorded.slice(0, 10), end.last_good_seq)),
    ],
    bar: [link(words.signedHere, "#signed")],
  };
}

export function stopped({ words }, why) {
  return {
    title: words.stopTitle,
    body: [note("stop", words.stop[why.code] ?? why.code), el("p", {}, words.stopKept)],
  };
}
