// JSON as it is signed: members sorted by code point, no spaces, whole numbers, whole characters (RFC 7493).

import { Malformed } from "./bytes.js";

const DEEPEST = 32;

export function canonical(value, depth = 0) {
  if (depth > DEEPEST) throw new Malformed(`This is nested more than ${DEEPEST} levels deep.`);
  if (value === null || typeof value === "boolean") return String(value);
  if (typeof value === "number") return wholeNumber(value);
  if (typeof value === "string") return characters(value);
  if (Array.isArray(value)) return `[${value.map((each) => canonical(each, depth + 1)).join(",")}]`;
  if (typeof value === "object") return members(value, depth + 1);
  throw new Malformed(`A ${typeof value} cannot be signed.`);
}

function wholeNumber(value) {
  if (!Number.isSafeInteger(value) || Object.is(value, -0)) {
    throw new Malformed("Only whole numbers are signed: write decimals as text.");
  }
  return String(value);
}

function characters(value) {
  // In a u-pattern a pair of surrogates is one character: what is found is half of one.
  if (/[\0\ud800-\udfff]/u.test(value)) throw new Malformed("A text holds U+0000 or half a character.");
  return JSON.stringify(value);
}

function members(value, depth) {
  const names = Object.keys(value).sort(byCodePoint);
  return `{${names.map((name) => `${characters(name)}:${canonical(value[name], depth)}`).join(",")}}`;
}

// Code units would put characters beyond U+FFFF before some within.
export function byCodePoint(one, other) {
  const left = [...one];
  const right = [...other];
  for (let i = 0; i < Math.min(left.length, right.length); i += 1) {
    const apart = left[i].codePointAt(0) - right[i].codePointAt(0);
    if (apart) return apart;
  }
  return left.length - right.length;
}
