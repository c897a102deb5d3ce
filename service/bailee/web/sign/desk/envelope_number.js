// Which envelope: its label, scanned or typed.

import { el } from "../parts/el.js";
import { button, link } from "../parts/frame.js";
import { label } from "../parts/kinds.js";
import { scanner } from "../parts/scanner.js";

// A screen that goes on to `screen/ENVELOPE`; `more` stands below the field, `buttons` beside the one that goes on.
export function whichEnvelope(context, { title, text, screen, more = [], buttons = [] }) {
  const { words, go } = context;
  const field = label(words, words.envelope, "envelope", { hint: words.numberHint });
  const next = () => {
    const found = field.answer();
    if (found) return go(`${screen}/${found}`);
  };
  const scanned = (read) => {
    field.input.value = read;
    return next();
  };
  context.typed(scanned);
  return {
    title,
    body: [el("p", {}, text), scanner(words, scanned).element, field.element, ...more],
    bar: [button(words.next, next), ...buttons, link(words.home, "#home")],
  };
}
