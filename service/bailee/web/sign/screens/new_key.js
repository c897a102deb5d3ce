// A new key, and the request to be let in with it while nobody did: the first screens of all, so they wait for no other.

import { Unreachable } from "../core/service.js";
import { el, note } from "../parts/el.js";
import { ask, line } from "../parts/fields.js";
import { alarm, button, link } from "../parts/frame.js";
import { organization } from "../parts/kinds.js";
import { CannotKeepKeys } from "../phone.js";

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
