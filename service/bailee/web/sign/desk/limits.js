// Thresholds of the rules, as the organization signs them: each as it is in force, and what a change would ask of people,
// and on which visits under way.

import { el, note } from "../parts/el.js";
import { ask, line, yesNo } from "../parts/fields.js";
import { decimalText } from "../core/measures.js";
import { button, link, alarm } from "../parts/frame.js";
import { inForce, underWay } from "./hours.js";
import { vocabulary } from "./vocabulary.js";
import { words as desk } from "./words.js";

export async function limits(context) {
  const { words, phone, go } = context;
  const told = await inForce(phone);
  if (told.away) return { title: words.limits, body: [note("stop", told.away)], bar: [link(words.home, "#home")] };
  const { policy, stated } = told;
  const edition = stated?.edition ?? phone.vocabulary.edition;
  const known = Object.entries(vocabulary.limits).filter(([name, each]) => each.edition <= edition && name in policy);
  const hint = (name) => desk.limitOf(desk.units[name.split("_").at(-1)], vocabulary.limits[name].rules, Boolean(stated && name in stated));
  const fields = Object.fromEntries(known.map(([name, each]) => [name, question(words, each, policy[name], hint(name))]));
  const find = line(words, desk.findLimit, { isOptional: true });
  // Those with the words looked for, in the question or its rules; none is left out of what is signed.
  const shownOnly = () => {
    const text = find.input.value.trim().toLowerCase();
    for (const [name, { element }] of Object.entries(fields)) element.hidden = !`${vocabulary.limits[name].says} ${vocabulary.limits[name].rules}`.toLowerCase().includes(text);
  };
  find.input.addEventListener("input", shownOnly);
  const effect = el("div", { role: "alert" });
  let before = "";
  const sign = async () => {
    find.input.value = "";
    shownOnly();
    const said = ask(fields);
    if (!said) return;
    const changed = Object.fromEntries(Object.entries(said).filter(([name, value]) => !isSame(value, policy[name])));
    if (!Object.keys(changed).length) return void alarm(desk.noLimitChanged);
    const now = JSON.stringify(changed);
    if (before !== now) {
      before = now;
      const rows = Object.entries(changed).map(([name, value]) => {
        const { says, stricter } = vocabulary.limits[name];
        return note("warn", desk.limitChange(says, shown(words, policy[name]), shown(words, value), isStricter(stricter, value, policy[name])));
      });
      effect.replaceChildren(...rows, ...(await underWay(context)), el("p", {}, desk.changeAgain));
      return void effect.scrollIntoView({ block: "end" });
    }
    await phone.see(`org/${phone.device.org}`);
    const data = { policy: { ...stated, edition, ...changed } };
    if (await context.sign({ chain: `org/${phone.device.org}`, act: "policy_set", data })) await go("signed");
  };
  return {
    title: words.limits,
    fields,
    body: [
      el("p", {}, desk.limitsText(known.filter(([name]) => stated && name in stated).length, known.length, edition)),
      find.element,
      ...Object.values(fields).map((each) => each.element),
      effect,
    ],
    bar: [button(desk.signLimits, sign), link(words.home, "#home")],
  };
}

function question(words, { says, stricter }, value, hint) {
  if (typeof value === "boolean" && stricter === "yes") return yesNo(words, `${says} ${hint}`, { value });
  const isDecimal = typeof value === "string";
  return line(words, says, {
    value: String(value), hint, mode: isDecimal ? "decimal" : "numeric", wrong: () => (isDecimal ? words.wrongDecimal : words.wrongCount),
    read: (text) => (isDecimal ? decimalText(text) : whole(text)),
  });
}

function whole(text) {
  if (!/^[0-9]{1,7}$/.test(text)) throw new Error("whole");
  return Number(text);
}

const isSame = (one, other) => (typeof other === "string" ? Number(one) === Number(other) : one === other);
const isStricter = (direction, now, then) => (direction === "lower" ? Number(now) < Number(then) : Number(now) > Number(then));
const shown = (words, value) => (typeof value === "boolean" ? (value ? words.yes : words.no) : String(value));
