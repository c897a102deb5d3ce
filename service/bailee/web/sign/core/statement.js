// Signed texts: compact JWS by an Ed25519 key of this device (RFC 7515 7.1, RFC 9864), and the salted
// disclosures of what is personal (RFC 9901 4.2). The text is made once, kept, and sent as it is.

import { b64u, digest, Malformed, unb64u, utf8 } from "./bytes.js";
import { byCodePoint, canonical } from "./json.js";

export const TYP = {
  statement: "custody-statement+sd-jwt",
  access: "custody-access+jwt",
  pages: "custody-pages+jwt",
  proof: "custody-key-proof+jwt",
};
const ED25519 = { name: "Ed25519" };
const LONGEST_STATEMENT = 16 * 1024;
const LONGEST_DISCLOSURE = 8192;
const TOKEN_S = 300;

export const makeKey = () => crypto.subtle.generateKey(ED25519, false, ["sign", "verify"]);

// The name of a key: its thumbprint (RFC 7638) over the public half (RFC 8037 2).
export async function nameOf(publicKey) {
  const x = b64u(new Uint8Array(await crypto.subtle.exportKey("raw", publicKey)));
  const jwk = { crv: "Ed25519", kty: "OKP", x };
  return { jwk, kid: await digest(canonical(jwk)) };
}

export function signingInput(kid, typ, claims) {
  return `${b64u(utf8(canonical({ alg: "Ed25519", kid, typ })))}.${b64u(utf8(canonical(claims)))}`;
}

async function write(key, kid, typ, claims) {
  const input = signingInput(kid, typ, claims);
  return `${input}.${b64u(new Uint8Array(await crypto.subtle.sign(ED25519, key, utf8(input))))}`;
}

// `place` is {seq, prev, after, seen}; `said` {chain, act, data, refs, private: digests, iat, tzo, skew: s by which the
// clock is known to be behind}.
export async function writeStatement(key, device, place, said) {
  const claims = {
    iss: device.org,
    aud: device.origin,
    sub: said.chain,
    act: said.act,
    iat: said.iat,
    tzo: said.tzo,
    seq: place.seq,
    prev: place.prev,
    after: place.after,
    data: said.data,
  };
  if (said.refs?.length) claims.refs = said.refs;
  if (said.skew) claims.skew = said.skew;
  if (place.seen) claims.seen = { size: place.seen.size, root: place.seen.root };
  if (said.private?.length) Object.assign(claims, { _sd: said.private.toSorted(), _sd_alg: "sha-256" });
  const text = await write(key, device.kid, TYP.statement, claims);
  if (text.length > LONGEST_STATEMENT) throw new Malformed("This is too long for one entry: enter it in two.");
  return text;
}

// What a statement says, of a text that was signed here or came from a colleague's screen. Nothing is believed.
export function claimsOf(text) {
  const parts = text.split(".");
  if (parts.length !== 3) throw new Malformed("This is no signed text.");
  return JSON.parse(new TextDecoder("utf-8", { fatal: true }).decode(unb64u(parts[1])));
}

// Whether the key of this device signed a text.
export async function isOf(device, text) {
  try {
    const border = text.lastIndexOf(".");
    return await verifies(unb64u(device.jwk.x), unb64u(text.slice(border + 1)), utf8(text.slice(0, border)));
  } catch {
    return false;
  }
}

// Disclosures of the fields that say something, each with a salt of 128 bits, by name.
export async function conceal(fields, salt = () => crypto.getRandomValues(new Uint8Array(16))) {
  const told = Object.entries(fields).filter(([, value]) => value);
  const texts = told.sort(([one], [other]) => byCodePoint(one, other)).map(([name, value]) => {
    const text = b64u(utf8(canonical([b64u(salt()), name, value])));
    if (text.length > LONGEST_DISCLOSURE) throw new Malformed(`This is too long: shorten it (${name}).`);
    return text;
  });
  return { texts, digests: await Promise.all(texts.map(digest)) };
}

// Private fields by name, of their texts: what was said here and lies beside the log.
export const toldIn = (texts) => Object.fromEntries(texts.map((each) => JSON.parse(new TextDecoder().decode(unb64u(each))).slice(1)));

// Who asks, for five minutes from `now` (s): for questions, or once for the pages to read.
export function token(key, device, now, typ = TYP.access) {
  const claims = { aud: device.origin, exp: now + TOKEN_S, iat: now, iss: device.org };
  if (typ === TYP.pages) claims.jti = b64u(crypto.getRandomValues(new Uint8Array(9)));
  return write(key, device.kid, typ, claims);
}

// That this device holds the key which is to be let in.
export function keyProof(key, device, now) {
  return write(key, device.kid, TYP.proof, { aud: device.origin, iat: now, iss: device.org });
}

export async function verifies(raw, signature, message) {
  try {
    const key = await crypto.subtle.importKey("raw", raw, ED25519, false, ["verify"]);
    return await crypto.subtle.verify(ED25519, key, signature, message);
  } catch {
    return false;
  }
}
