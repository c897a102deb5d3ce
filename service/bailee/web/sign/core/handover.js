// What one phone shows another as a code: the form, the statement, the numbers. It stands behind the `#` of an address
// of this app, which no browser sends to a server; a phone's own camera opens it. It is read, never believed: whoever
// takes or watches counts and reads for themselves, and the ledger has both words.

import { b64u, Malformed, unb64u, utf8 } from "./bytes.js";
import { canonical } from "./json.js";
import { read } from "./numbers.js";

const DIGEST = /^[A-Za-z0-9_-]{43}$/;
const MOST = 100;

// `kind` is "take" or "see".
export function written(address, kind, { origin, form, zone, statements, samples, person }) {
  const told = { o: origin, f: form, z: zone, s: statements, n: samples, p: person };
  return `${address}#${kind}/${b64u(utf8(canonical(told)))}`;
}

// Of what stands behind `#take/` or `#see/`.
export function readCode(text) {
  let told;
  try {
    told = JSON.parse(new TextDecoder("utf-8", { fatal: true }).decode(unb64u(text)));
  } catch {
    throw new Malformed("code");
  }
  const { o: origin, f, z: zone, s: statements, n, p: person } = told ?? {};
  const isSound = [origin, f, zone, person].every((each) => typeof each === "string" && each.length <= 128)
    && [statements, n].every((each) => Array.isArray(each) && each.length > 0 && each.length <= MOST)
    && statements.every((each) => typeof each === "string" && DIGEST.test(each))
    && n.every((each) => typeof each === "string");
  if (!isSound) throw new Malformed("code");
  try {
    return { origin, form: read(f, "form"), zone, statements, samples: n.map((each) => read(each, "sample")), person };
  } catch {
    throw new Malformed("code");
  }
}
