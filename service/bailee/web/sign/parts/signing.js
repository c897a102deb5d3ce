// A screen that asks and signs: what was answered makes what is signed, and then the next screen is shown.

import { ask } from "./fields.js";
import { button, link } from "./frame.js";

export const elements = (fields) => Object.values(fields).map((each) => each.element);

// `drafted(answers)` gives what to sign, one or several; nothing where that cannot be, once it has shown why.
export function signing({ words, go, sign }, { title, fields, body, text, drafted, then, back = then }) {
  const signed = async () => {
    const said = ask(fields);
    const drafts = said && (await drafted(said));
    if (drafts && (await sign(...[drafts].flat()))) await go(then);
  };
  return { title, fields, body, bar: [button(text, signed), link(words.back, `#${back}`)] };
}
