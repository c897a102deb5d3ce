// Elements, made of text and never of markup.

import { lines } from "../core/fingerprint.js";

export function el(tag, properties = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (name === "value" || name === "checked" || name === "disabled") made[name] = value;
    else made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...children.flat().filter((each) => each !== null && each !== undefined && each !== false));
  return made;
}

// A number in printed groups, read out by character.
export function number(grouped) {
  const spelled = [...grouped.replaceAll(" ", "")].join(" ");
  return el("span", { class: "number" }, el("span", { "aria-hidden": "true" }, grouped), el("span", { class: "aside" }, spelled));
}

// The number of a visit, and where it is, as far as this phone knows.
export const numberAt = (grouped, site) => [number(grouped), site ? el("span", { class: "site" }, ` ${site}`) : null];

// A key, to be read aloud and compared.
export const keyLines = (title, kid) =>
  el("div", { class: "lines", tabindex: "0", role: "group", "aria-label": title }, lines(kid).join("\n"));

export const note = (kind, ...content) => el("div", { class: `note ${kind}` }, el("p", {}, ...content));
