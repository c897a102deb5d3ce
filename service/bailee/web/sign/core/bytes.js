// Bytes as text, and their digests: one spelling each (RFC 4648 5 without padding; RFC 6962 2.1 for leaves).

export class Malformed extends Error {}

export const utf8 = (text) => new TextEncoder().encode(text);

export const b64 = (bytes) => btoa(Array.from(bytes, (each) => String.fromCharCode(each)).join(""));

export const b64u = (bytes) => b64(bytes).replaceAll("+", "-").replaceAll("/", "_").replace(/=+$/, "");

export const unb64 = (text) => read(text, b64);

export const unb64u = (text) => read(text, b64u);

// A decoder that forgives stray bits gives one value many texts: what is read must be what would be written.
function read(text, write) {
  let bytes;
  try {
    const plain = write === b64 ? text : text.replaceAll("-", "+").replaceAll("_", "/");
    bytes = Uint8Array.from(atob(plain), (each) => each.charCodeAt(0));
  } catch {
    throw new Malformed("This is not base64 as it was issued.");
  }
  if (write(bytes) !== text) throw new Malformed("This is not base64 as it was issued.");
  return bytes;
}

export async function sha256(bytes) {
  return new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
}

// The id of a signed text or a disclosure.
export const digest = async (text) => b64u(await sha256(utf8(text)));

export const leafHash = async (entry) => b64u(await sha256(new Uint8Array([0, ...utf8(entry)])));

export const nodeHash = (left, right) => sha256(new Uint8Array([1, ...left, ...right]));

export const same = (one, other) => one.length === other.length && one.every((each, i) => each === other[i]);
