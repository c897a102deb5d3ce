// What one phone shows another as a code: the form, the statement, the numbers. It stands behind the `#` of an address
// of this app, which no browser sends to a server; a phone's own camera opens it. It is read, never believed: whoever
// takes or watches counts and reads for themselves, and the ledger has both words.

import { b64u, Malformed, unb64u, utf8 } from "./bytes.js";
import { canonical } from "./json.js";
import { isZone } from "./moments.js";
import { read } from "./numbers.js";

const DIGEST = /^[A-Za-z0-9_-]{43}$/;
const MOST = 100;

// `kind` is "take" or "see".
export function written(address, kind, { origin, form, zone, statements, samples, person }) {
  const told = { o: origin, f: form, z: zone, s: statements, n: samples, p: person };
  return `${address}#${kind}/${b64u(utf8(canonical(told)))}`;
}

// Of what stands behind `#take/` or `#see/`. One hand-over is one statement; who watches signs for as many as the
// samples that they read, and for no more that a code may hold besides.
export function readCode(text, kind) {
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
  if (!isSound || !isZone(zone)) throw new Malformed("code");
  const samples = numbersOf(n);
  const isWhole = statements.length === (kind === "take" ? 1 : samples.length);
  if (!isWhole || [statements, samples].some((each) => new Set(each).size < each.length)) throw new Malformed("code");
  return { origin, form: numbersOf([f], "form")[0], zone, statements, samples, person };
}

function numbersOf(told, kind = "sample") {
  try {
    return told.map((each) => read(each, kind));
  } catch {
    throw new Malformed("code");
  }
}

// Whether the code puts samples on another form than the one that this phone knows them from.
export const isOtherForm = ({ form, samples }, visits) =>
  visits.some((visit) => visit.form !== form && samples.some((each) => visit.samples.has(each)));
