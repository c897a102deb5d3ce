// A slip is asked back once: what was said is changed, or the same button is tapped again and it stands.

import { el, note } from "./el.js";

export function askedBack(words) {
  const element = el("div", { role: "alert" });
  let told = "";
  // Whether what is said may be signed now.
  const settled = (slips) => {
    const found = JSON.stringify(slips);
    if (!slips.length || found === told) return true;
    told = found;
    const sentences = slips.map(({ code, facts }) => note("warn", words.slips[code](facts)));
    element.replaceChildren(...sentences, el("p", {}, words.slipAgain));
    element.scrollIntoView({ block: "end" });
    return false;
  };
  return { element, settled };
}
