// Questions of the trade: numbers of labels, decimals, lengths, short identifiers, codes of an act.

import { BadNumber, read as readNumber } from "../core/numbers.js";
import { decimalText, meters, seconds } from "../core/measures.js";
import { line, picks } from "./fields.js";

const TAG = /^[A-Za-z0-9][A-Za-z0-9 ._/#+:-]{0,59}$/;
const ORGANIZATION = /^[a-z0-9]([a-z0-9-]{0,30}[a-z0-9])?$/;

export const matching = (pattern) => (text) => {
  if (!pattern.test(text)) throw new Error("pattern");
  return text;
};

export const tag = (words, label, options = {}) =>
  line(words, label, { isOptional: true, read: matching(TAG), wrong: () => words.wrongTag, ...options });

export const organization = (words, label, options = {}) =>
  line(words, label, { read: matching(ORGANIZATION), wrong: () => words.wrongOrg, ...options });

export const decimal = (words, label, options = {}) =>
  line(words, label, {
    isOptional: true, mode: "decimal", read: (text) => notNegative(decimalText(text)), wrong: () => words.wrongDecimal, ...options,
  });

export const notNegative = (text) => {
  if (text.startsWith("-")) throw new Error("negative");
  return text;
};

export const length = (words, label, options = {}) =>
  line(words, label, { isOptional: true, hint: words.heightHint, read: meters, wrong: () => words.wrongLength, ...options });

export const day = (words, label, options = {}) =>
  line(words, label, { isOptional: true, read: matching(/^\d{4}-\d\d-\d\d$/), wrong: () => words.wrongDay, ...options });

// A day and a time by clocks at one offset, as they are signed.
export const moment = (words, label, offset, options = {}) =>
  line(words, label, { isOptional: true, hint: words.momentHint(offset), read: (text) => momentOf(text, offset), wrong: () => words.wrongMoment, ...options });

function momentOf(text, offset) {
  const typed = text.match(/^(\d{4}-\d\d-\d\d)[ T](\d\d:\d\d)(:\d\d)?$/);
  const found = typed && `${typed[1]}T${typed[2]}${typed[3] ?? ":00"}${offset}`;
  if (!found || !Number.isFinite(Date.parse(found))) throw new Error("moment");
  return found;
}

export const run = (words, label, options = {}) =>
  line(words, label, { hint: words.plannedHint, read: seconds, wrong: () => words.wrongRun, ...options });

export const count = (words, label, options = {}) =>
  line(words, label, {
    isOptional: true, mode: "numeric", read: (text) => Number(matching(/^[0-9]{1,5}$/)(text)), wrong: () => words.wrongCount, ...options,
  });

export const label = (words, title, kind, options = {}) =>
  line(words, title, { code: true, read: (text) => readNumber(text, kind), wrong: (error) => wrongNumber(words, error), ...options });

export const wrongNumber = (words, error) =>
  error instanceof BadNumber ? words.wrongNumber[error.code](error.facts) : String(error.message);

// A private line of free text.
export const free = (words, title, options = {}) => line(words, title, { isOptional: true, hint: words.isPrivate, ...options });

// One of the codes that an act's member may have, by the registry of acts.
export function codesOf(vocabulary, act, path) {
  const steps = path.split(".");
  return steps.reduce((shape, name) => inside(shape.properties[name]), vocabulary.acts[act].data).enum;
}

// The shape itself, without that it may be null, or that there may be several.
function inside(shape) {
  const bare = shape.anyOf?.find((each) => each.type !== "null") ?? shape;
  return bare.items ? inside(bare.items) : bare;
}

export const code = (context, title, act, path, { but = [], ...options } = {}) =>
  picks(context.words, title, codesOf(context.phone.vocabulary, act, path).filter((each) => !but.includes(each)), (each) => context.say(each, path.split(".").pop()), options);
