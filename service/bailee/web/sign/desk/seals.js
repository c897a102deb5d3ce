// The number of a custody seal: printed, scanned where samples are scanned too, and asked for.

import { BadNumber, kindOf, labelNumber, read as readNumber } from "../core/numbers.js";
import { line } from "../parts/fields.js";
import { matching } from "../parts/kinds.js";

const OWN_SEAL = /^C[0-9A-Z]{3}(-?)[0-9A-Z]{4}\1[0-9A-Z]{4}$/;
const SEAL = /^[0-9A-Z][0-9A-Z-]{2,23}$/;

// One of ours with its check character, or as another maker printed it.
export function readSeal(text) {
  const tidy = text.trim().replace(/\/+$/, "").split("/").pop().replace(/\s/g, "").toUpperCase();
  if (OWN_SEAL.test(tidy)) return readNumber(tidy, "seal");
  if (!SEAL.test(tidy) || labelNumber(tidy)) throw new BadNumber("seal", { number: text });
  return tidy;
}

// The seal that a scan can only be; null for a sample, for another label of ours and for one that was read wrongly. What
// fingers typed is none: it may be a sample with a character left out.
export function sealScanned(text) {
  try {
    const number = readNumber(text);
    return kindOf(number) === "seal" ? number : null;
  } catch (error) {
    if (!(error instanceof BadNumber)) throw error;
    return ["check", "swapped"].includes(error.code) ? null : otherMakers(text);
  }
}

function otherMakers(text) {
  try {
    return readSeal(text);
  } catch {
    return null;
  }
}

export const sealNumber = (words, title, options = {}) => line(words, title, { code: true, read: readSeal, ...options });

// As it was read, right or wrong: up to 40 characters.
export const asRead = (words, title, options = {}) =>
  line(words, title, { code: true, read: matching(/^.{1,40}$/), wrong: () => words.wrongTag, ...options });
