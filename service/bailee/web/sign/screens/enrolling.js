// A new key, and asking to be enrolled.

import { lines } from "../core/fingerprint.js";
import { Unreachable } from "../core/service.js";
import { written } from "../core/request.js";
import { screenCode } from "../parts/codes.js";
import { el, note } from "../parts/el.js";
import { ask, line } from "../parts/fields.js";
import { alarm, button, link, say } from "../parts/frame.js";
import { organization } from "../parts/kinds.js";
import { CannotKeepKeys } from "../phone.js";

const ASK_EVERY_MS = 5000;

const who = (words, { org, person, name }) => ({
  org: organization(words, words.org, { value: org, hint: words.orgHint }),
  person: line(words, words.person, { value: person, hint: words.personHint, auto: "name" }),
  name: line(words, words.device, { value: name, isOptional: true, hint: words.isPrivate }),
});

export function newKey({ words, phone, go, asked }) {
  const fields = who(words, { org: asked ?? "" });
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
      el("p", {}, words.askedFor(asking.person, asking.organization)),
      el("h2", {}, words.askedKey),
      el("div", { class: "lines", tabindex: "0", role: "group", "aria-label": words.askedKey }, lines(phone.device.kid).join("\n")),
      el("p", { class: "soft" }, words.askWaiting),
      screenCode(written(`${location.origin}/sign/`, asking), words.codeImage),
    ],
    bar: [canShare ? button(words.askShare, share) : null, button(words.askSave, save, { second: canShare }), link(words.askOther, "#change")],
  };
}

// The way back while nobody let it in: the same key asks anew, so that there is no second one.
export function change({ words, phone, go }) {
  const fields = who(words, phone.device);
  const asks = async () => {
    const answers = ask(fields);
    if (!answers) return;
    try {
      await phone.askAnew({ ...answers, name: answers.name ?? "" });
      await go("asked");
    } catch (error) {
      if (!(error instanceof Unreachable)) throw error;
      alarm(words.noService);
    }
  };
  return {
    title: words.askOther,
    body: [el("p", {}, words.askOtherText), ...Object.values(fields).map((each) => each.element)],
    bar: [button(words.askAnew, asks), link(words.back, "#asked")],
  };
}
