// Questions about the air: degrees, pressure, percent.

import { celsius, hectopascals } from "../core/air.js";
import { decimalText } from "../core/measures.js";
import { line } from "./fields.js";
import { notNegative } from "./kinds.js";

// Degrees Celsius of air: what is hotter than it gets and has no unit is surely Fahrenheit.
export const degrees = (words, label, options = {}) =>
  line(words, label, { isOptional: true, hint: words.degreesHint, read: (text) => within(celsius(text), -60, 45), wrong: () => words.wrongDegrees, ...options });

export const pressure = (words, label, options = {}) =>
  line(words, label, { isOptional: true, hint: words.pressureHint, read: (text) => notNegative(hectopascals(text)), wrong: () => words.wrongPressure, ...options });

export const percent = (words, label, options = {}) =>
  line(words, label, { isOptional: true, mode: "decimal", read: (text) => within(decimalText(text), 0, 100), wrong: () => words.wrongPercent, ...options });

const within = (text, least, most) => {
  if (Number(text) < least || Number(text) > most) throw new Error("range");
  return text;
};
