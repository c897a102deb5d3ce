// What lies in an envelope, as the dock scans it: samples with their condition, and numbers that are on none of its
// forms, recorded as they stand. Each can be taken out again, and all of it is kept until it is signed.

import { grouped } from "../core/numbers.js";
import { el, note } from "../parts/el.js";
import { several, tell } from "../parts/fields.js";
import { button, say as saying } from "../parts/frame.js";
import { codesOf } from "../parts/kinds.js";
import { words as desk } from "./words.js";

export function inside({ words, say, phone }) {
  const [conditions, extra] = [new Map(), new Set()];
  const element = el("div", {});
  const codes = codesOf(phone.vocabulary, "received", "items.condition");
  // `drop` forgets what the row shows.
  const row = (name, shown, drop) => {
    const out = button(desk.takeIt, () => {
      drop();
      line.remove();
      tell(element);
    }, { second: true });
    out.setAttribute("aria-label", desk.takeOut(name));
    const line = el("div", { class: "line" }, shown, out);
    element.append(line);
    saying(name);
    tell(element);
  };
  const add = (sample) => {
    if (conditions.has(sample)) return void saying(desk.alreadyIn(grouped(sample)));
    const field = several(words, grouped(sample), codes, (each) => say(each));
    conditions.set(sample, field);
    row(grouped(sample), field.element, () => conditions.delete(sample));
  };
  const addForeign = (text) => {
    if (extra.has(text)) return;
    extra.add(text);
    row(text, note("warn", desk.unlike.extra({ samples: text })), () => extra.delete(text));
  };
  return {
    element, conditions, extra, add, addForeign,
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
