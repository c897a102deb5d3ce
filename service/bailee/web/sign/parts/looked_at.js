// Samples as somebody reads them one by one, each with the condition in which it was found; at a dock also numbers that
// are on none of its forms, recorded as they stand. Each can be taken out again, and all of it is kept until it is signed.

import { grouped } from "../core/numbers.js";
import { el, note } from "./el.js";
import { several, tell } from "./fields.js";
import { alarm, button, say as saying } from "./frame.js";
import { codesOf } from "./kinds.js";

// The element says `change` whenever something is added, taken out or looked at.
export function lookedAt({ words, say, phone }) {
  const [conditions, extra] = [new Map(), new Set()];
  const element = el("div", {});
  const codes = codesOf(phone.vocabulary, "received", "items.condition");
  // `drop` forgets what the row shows.
  const row = (name, shown, drop) => {
    const out = button(words.takeIt, () => {
      drop();
      line.remove();
      tell(element);
    }, { second: true });
    out.setAttribute("aria-label", words.takeOutOf(name));
    const line = el("div", { class: "line" }, shown, out);
    element.append(line);
    saying(name);
    tell(element);
  };
  const add = (sample) => {
    if (conditions.has(sample)) return void saying(words.alreadyIn(grouped(sample)));
    const field = several(words, grouped(sample), codes, (each) => say(each));
    conditions.set(sample, field);
    row(grouped(sample), field.element, () => conditions.delete(sample));
  };
  const addForeign = (text) => {
    if (extra.has(text)) return;
    extra.add(text);
    row(text, note("warn", words.onNoForm(text)), () => extra.delete(text));
  };
  return {
    element, conditions, extra, add, addForeign,
    // Whoever looked at all of them says so at once, and may change each.
    allIntact: () => conditions.forEach((each) => each.put({ offered: ["intact"], chosen: ["intact"] })),
    // Each with its condition; null where one has none, once that is said.
    answer() {
      const bare = [...conditions].find(([, each]) => !each.answer().length);
      if (!bare) return new Map([...conditions].map(([sample, each]) => [sample, each.answer()]));
      alarm(`${grouped(bare[0])}: ${words.choose}`);
      bare[1].focus();
      return null;
    },
    kept: () => ({ samples: [...conditions].map(([sample, each]) => [sample, each.kept()]), extra: [...extra] }),
    put(before) {
      for (const [sample, condition] of before.samples) {
        add(sample);
        conditions.get(sample).put(condition);
      }
      for (const each of before.extra) addForeign(each);
    },
  };
}
