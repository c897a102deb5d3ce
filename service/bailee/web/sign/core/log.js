// The log as this device has seen it: a checkpoint signed by the key it joined (C2SP tlog-checkpoint, signed-note)
// that continues the one before (RFC 9162 2.1.4.2).

import { b64u, Malformed, nodeHash, same, sha256, unb64, unb64u, utf8 } from "./bytes.js";
import { verifies } from "./statement.js";

export class Broken extends Error {
  constructor(code, facts = {}) {
    super(code);
    Object.assign(this, { code, facts });
  }
}

const ED25519 = 1;
const hex = (bytes) => Array.from(bytes, (each) => each.toString(16).padStart(2, "0")).join("");

// "name+id+base64(type ‖ public key)"; the id must be the one the key gives.
export async function readLogKey(text) {
  const [name, id, ...rest] = text.split("+");
  const data = unb64(rest.join("+"));
  const found = (await sha256(new Uint8Array([...utf8(`${name}\n`), ...data]))).slice(0, 4);
  if (data.length !== 33 || data[0] !== ED25519 || hex(found) !== id) throw new Malformed("This is no key of a log.");
  return { name, id: found, raw: data.slice(1) };
}

// {size, root} of a note, or Broken where the log that this device joined did not sign it.
export async function readCheckpoint(note, logKey, origin) {
  const border = note.lastIndexOf("\n\n");
  const text = note.slice(0, border + 1);
  const [name, size, root, ...rest] = text.split("\n");
  const key = await readLogKey(logKey);
  if (border < 0 || name !== origin || rest.join("") !== "" || !/^(0|[1-9][0-9]{0,15})$/.test(size)) {
    throw new Broken("origin");
  }
  const mine = note.slice(border + 2).split("\n").filter((line) => line.startsWith(`\u2014 ${origin} `));
  const data = mine.length === 1 ? unb64(mine[0].split(" ")[2]) : new Uint8Array();
  const isSigned = same(data.slice(0, 4), key.id) && (await verifies(key.raw, data.slice(4), utf8(text)));
  if (!isSigned) throw new Broken("origin");
  return { size: Number(size), root: b64u(unb64(root)) };
}

// `ask(path)` fetches the proof; nothing before: anything continues it.
export async function requireContinued(before, now, ask) {
  if (!before) return;
  if (now.size < before.size) throw new Broken("log-shrunk", { before: before.size, now: now.size });
  const path = before.size && before.size < now.size
    ? (await ask(`/proofs/consistency?first=${before.size}&second=${now.size}`)).proof.map(unb64)
    : [];
  if (!(await continues(before, now, path))) throw new Broken("log-rewritten", { before: before.size, now: now.size });
}

export async function continues(before, now, path) {
  const [oldRoot, newRoot] = [unb64u(before.root), unb64u(now.root)];
  if ([oldRoot, newRoot, ...path].some((each) => each.length !== 32)) return false;
  if (before.size < 0 || before.size > now.size) return false;
  if (before.size === 0 && !same(oldRoot, await sha256(new Uint8Array()))) return false;
  if (before.size === 0 || before.size === now.size) {
    return path.length === 0 && (before.size < now.size || same(oldRoot, newRoot));
  }
  let [fn, sn] = [BigInt(before.size - 1), BigInt(now.size - 1)];
  const hashes = isPowerOfTwo(before.size) ? [oldRoot, ...path] : path;
  while (fn & 1n) [fn, sn] = [fn >> 1n, sn >> 1n];
  if (!hashes.length) return false;
  let [oldFound, newFound] = [hashes[0], hashes[0]];
  for (const each of hashes.slice(1)) {
    if (sn === 0n) return false;
    if (fn & 1n || fn === sn) {
      [oldFound, newFound] = [await nodeHash(each, oldFound), await nodeHash(each, newFound)];
      while (fn && !(fn & 1n)) [fn, sn] = [fn >> 1n, sn >> 1n];
    } else {
      newFound = await nodeHash(newFound, each);
    }
    [fn, sn] = [fn >> 1n, sn >> 1n];
  }
  return sn === 0n && same(oldFound, oldRoot) && same(newFound, newRoot);
}

const isPowerOfTwo = (size) => (BigInt(size) & (BigInt(size) - 1n)) === 0n;

