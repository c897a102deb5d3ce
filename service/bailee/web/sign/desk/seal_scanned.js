// The number of a custody seal that was scanned where samples are scanned too.

import { BadNumber, kindOf, readSeal, read as readNumber } from "../core/numbers.js";

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
