// A request to be let in, as one phone shows it to the administrator's: the public half of the key, the proof that its
// owner holds the other, and the names. It stands behind the `#` of an address, which no browser sends to a server.

import { b64u, digest, Malformed, unb64u, utf8 } from "./bytes.js";
import { canonical } from "./json.js";
import { claimsOf, TYP, verifies } from "./statement.js";

export function written(address, { jwk, proof, person, device }) {
  return `${address}#ask/${b64u(utf8(canonical({ x: jwk.x, p: proof, n: person, d: device })))}`;
}

// What `bailee enroll` reads of a request file; Malformed unless the key in it made the proof, for this organization and
// this log.
export async function readRequest(text, { org, origin }) {
  const { x, p: proof, n: person, d: device } = told(text);
  if (![x, proof, person, device].every((each) => typeof each === "string" && each.length <= 1024)) throw new Malformed("code");
  const jwk = { crv: "Ed25519", kty: "OKP", x };
  const kid = await digest(canonical(jwk));
  const [header, payload, signature] = proof.split(".");
  const isOwn = header === b64u(utf8(canonical({ alg: "Ed25519", kid, typ: TYP.proof })));
  if (!isOwn || !(await holds(x, signature, `${header}.${payload}`))) throw new Malformed("code");
  const claims = claimsOf(proof);
  if (claims.iss !== org || claims.aud !== origin) throw new Malformed("elsewhere");
  return { kid, jwk, proof, person, device };
}

function told(text) {
  try {
    return JSON.parse(new TextDecoder("utf-8", { fatal: true }).decode(unb64u(text))) ?? {};
  } catch {
    throw new Malformed("code");
  }
}

async function holds(x, signature, input) {
  try {
    return await verifies(unb64u(x), unb64u(signature ?? ""), utf8(input));
  } catch {
    return false;
  }
}
