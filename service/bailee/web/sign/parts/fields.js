// Questions: each has an element, a value, and a sentence where the answer cannot be. `ask` collects them by name.

import { el } from "./el.js";

let made = 0;

// As a finger would: what hangs on an answer, and what is kept of it, follows.
export const tell = (element, what = "change") => element.dispatchEvent(new Event(what, { bubbles: true }));

function framed(label, input, { hint = "", isOptional = false, words }) {
  made += 1;
  input.id = `field-${made}`;
  const wrong = el("p", { class: "wrong", id: `${input.id}-wrong` });
  const told = el("p", { class: "hint", id: `${input.id}-hint` }, hint);
  input.setAttribute("aria-describedby", `${told.id} ${wrong.id}`);
  const optional = isOptional ? el("span", { class: "optional" }, ` (${words.optional})`) : "";
  const element = el("div", { class: "field" }, el("label", { for: input.id }, label, optional), hint && told, input, wrong);
  const fault = (sentence) => {
    wrong.textContent = sentence;
    input.setAttribute("aria-invalid", String(Boolean(sentence)));
  };
  return { element, fault, focus: () => input.focus() };
}

// One line of text; `read` gives the value or throws, `wrong(error)` tells the sentence.
export function line(words, label, options = {}) {
  const { value = "", hint, isOptional = false, read = (text) => text, wrong, list, mode = "text", code, auto = "off" } = options;
  const input = el("input", { type: "text", value, inputmode: mode, autocomplete: auto, class: code ? "code" : "", spellcheck: "false", list: list?.id });
  if (code) input.setAttribute("autocapitalize", "characters");
  const { element, fault, focus } = framed(label, input, { hint, isOptional, words });
  if (list) element.append(list);
  return {
    element,
    input,
    focus,
    fault,
    kept: () => input.value,
    put(text) {
      input.value = text;
      for (const each of ["input", "change"]) tell(input, each);
    },
    // Undefined where the answer cannot be.
    answer() {
      const text = input.value.trim();
      fault("");
      if (!text && isOptional) return null;
      try {
        if (!text) throw new Error("needed");
        return read(text);
      } catch (error) {
        fault(text ? (wrong?.(error) ?? words.needed) : words.needed);
        return undefined;
      }
    },
  };
}

// One of some codes, as buttons to touch.
export function picks(words, label, codes, say, { value = null, isOptional = false, isWide = false, changed = () => {} } = {}) {
  made += 1;
  const name = `pick-${made}`;
  const wrong = el("p", { class: "wrong" });
  const inputs = codes.map((code, i) => {
    const input = el("input", { type: "radio", name, id: `${name}-${i}`, value: String(code), checked: code === value });
    input.addEventListener("change", () => changed(code));
    return input;
  });
  const optional = isOptional ? el("span", { class: "optional" }, ` (${words.optional})`) : "";
  const choices = inputs.map((input, i) => el("span", { class: "pick" }, input, el("label", { for: input.id }, say(codes[i]))));
  const element = el("fieldset", { class: isWide ? "picks wide" : "picks" }, el("legend", {}, label, optional), ...choices, wrong);
  return {
    element,
    focus: () => inputs[0].focus(),
    fault: (sentence) => (wrong.textContent = sentence),
    kept: () => codes[inputs.findIndex((each) => each.checked)],
    put(code) {
      const input = inputs[codes.indexOf(code)];
      if (!input) return;
      input.checked = true;
      tell(input);
    },
    answer() {
      const at = inputs.findIndex((each) => each.checked);
      wrong.textContent = at < 0 && !isOptional ? words.choose : "";
      return at < 0 ? (isOptional ? null : undefined) : codes[at];
    },
  };
}

export const yesNo = (words, label, options = {}) =>
  picks(words, label, [true, false], (code) => (code ? words.yes : words.no), options);

// Any of some codes.
export function several(words, label, codes, say, { value = [], isWide = false, changed = () => {} } = {}) {
  made += 1;
  const name = `many-${made}`;
  const inputs = codes.map((code, i) => el("input", { type: "checkbox", id: `${name}-${i}`, checked: value.includes(code) }));
  const choices = inputs.map((input, i) => el("span", { class: "pick" }, input, el("label", { for: input.id }, say(codes[i]))));
  const element = el("fieldset", { class: isWide ? "picks wide" : "picks" }, el("legend", {}, label), ...choices);
  const answer = () => codes.filter((_, i) => inputs[i].checked);
  element.addEventListener("change", () => changed(answer()));
  // What was not offered before is as it is offered now.
  const put = (before) => {
    for (const [i, code] of codes.entries()) if (before.offered.includes(code)) inputs[i].checked = before.chosen.includes(code);
    tell(element);
  };
  return { element, focus: () => inputs[0]?.focus(), answer, kept: () => ({ offered: codes, chosen: answer() }), put };
}

export function datalist(values) {
  made += 1;
  return el("datalist", { id: `list-${made}` }, ...values.map((each) => el("option", { value: each })));
}

export const folded = (title, ...content) => el("details", {}, el("summary", {}, title), ...content);

// An answer that is refused is looked at again: its question and why are in sight, above the bar.
export function refuse(field, sentence = null) {
  if (sentence) field.fault(sentence);
  field.element.closest("details")?.setAttribute("open", "");
  field.focus();
  field.element.scrollIntoView({ block: "center" });
}

// All answers by name; null, with the first wrong one in focus, where one cannot be. Hidden questions are not asked.
export function ask(fields) {
  const asked = Object.entries(fields).filter(([, each]) => !each.element.closest("[hidden]"));
  const answers = asked.map(([name, field]) => [name, field.answer(), field]);
  const wrong = answers.find(([, value]) => value === undefined);
  if (wrong) {
    refuse(wrong[2]);
    return null;
  }
  return Object.fromEntries(answers.map(([name, value]) => [name, value]));
}
