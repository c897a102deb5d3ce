// Where nobody can sign: memory that cannot be used, a key that is lost or has ended, a ledger that is not the one it was.

import { Broken } from "../core/log.js";
import { Unreachable } from "../core/service.js";
import { el, note } from "../parts/el.js";
import { alarm, button, link, say, uncover } from "../parts/frame.js";

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
      if (!(error instanceof Unreachable || error instanceof Broken)) throw error;
      alarm(error instanceof Broken ? words.stop[error.code] : words.noNetwork);
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
      button(words.lostNew, () => uncover(again), { second: true }),
    ],
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
      el("p", {}, words.endedTyped),
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
