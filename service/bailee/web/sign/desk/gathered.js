// Which samples are meant: scanned one by one, or all of an envelope or of a form, as the ledger has them now.

import { grouped, kindOf, read as readNumber } from "../core/numbers.js";
import { Problem, Unreachable } from "../core/service.js";
import { el, number as printed } from "../parts/el.js";
import { tell } from "../parts/fields.js";
import { alarm, button, say as saying } from "../parts/frame.js";
import { label, wrongNumber } from "../parts/kinds.js";
import { scanner } from "../parts/scanner.js";
import { words as desk } from "./words.js";

const LISTED = ["sample", "envelope", "form"];

// `samples` maps each number to {sample as told, form as told}; the element says `change` with each.
export function gathered(context) {
  const { words, phone } = context;
  const samples = new Map();
  const field = label(words, desk.scanAny, null, { hint: desk.scanAnyHint });
  const list = el("ul", { class: "rows" });
  const element = el("div", {});
  const drop = (sample) => {
    samples.delete(sample);
    drawn();
  };
  const drawn = () => {
    list.replaceChildren(...[...samples].map(([sample, { told }]) => {
      const out = button(words.takeIt, () => drop(sample), { second: true });
      out.setAttribute("aria-label", words.takeOutOf(grouped(sample)));
      return el("li", { class: "line" }, el("div", {}, printed(grouped(sample)), el("span", { class: "soft" }, ` ${lies(told)}`)), out);
    }));
    tell(element);
  };
  const add = async (text) => {
    const number = readNumber(text);
    for (const form of await formsOf(phone, number)) {
      for (const told of form.samples.filter((each) => !each.void && [each.sample, each.envelope, form.form].includes(number))) {
        samples.set(told.sample, { told, form });
      }
    }
    drawn();
  };
  const scanned = async (text) => {
    field.input.value = "";
    alarm("");
    try {
      await add(text);
      saying(words.samplesHere(samples.size));
    } catch (error) {
      const isAnswer = error instanceof Problem || error instanceof Unreachable;
      alarm(error instanceof Unreachable ? desk.needsNetwork : isAnswer ? error.message : wrongNumber(words, error));
    }
  };
  field.input.addEventListener("change", () => field.input.value.trim() && scanned(field.input.value));
  context.typed(scanned);
  element.append(scanner(words, scanned).element, field.element, list);
  return {
    element,
    samples,
    // By form, in the order of the scans.
    byForm() {
      const forms = [...new Map([...samples.values()].map(({ form }) => [form.form, form])).values()];
      return forms.map((form) => ({ form, samples: [...samples].filter(([, each]) => each.form.form === form.form).map(([sample]) => sample) }));
    },
    kept: () => [...samples.keys()],
    async put(before) {
      for (const each of before) await add(each).catch(() => null); // without a network they are scanned again
    },
  };
}

const lies = ({ store, keep_until: until }) => [store ? desk.liesIn(store) : "", until ? desk.keptUntil(until) : ""].filter(Boolean).join(", ");

// Throws what the service says of a number that it does not know.
async function formsOf(phone, number) {
  const get = async (path) => (await phone.service.get(path)).told;
  const kind = kindOf(number);
  if (!LISTED.includes(kind)) throw new Error(desk.noSamples);
  const named = kind === "form" ? [number] : kind === "envelope" ? (await get(`/envelopes/${number}`)).forms : [(await get(`/samples/${number}`)).form];
  const forms = await Promise.all(named.filter(Boolean).map((each) => get(`/forms/${each}`)));
  for (const each of forms) await phone.store.told(`form/${each.form}`, each.length, each.head);
  return forms;
}
