// One file of signed texts, made once, with room for a week, and written in place by the page itself: no list of files and
// no index changes, so there is no line of one that a browser killed in its own writing loses. Only a worker may write so.
//
// After a NUL nothing counts. A record is a line of JSON between two line feeds, {kid, seq, text, disclosures}, the newest
// of a counter counts; or {gone: [{kid, seq}]}. A line that was not written to its end is none.

"use strict";

const ROOM = 1024 * 1024;
const CHUNK = 64 * 1024;
const ROUNDS = 50;
let file;
let turn = Promise.resolve();

onmessage = ({ data: { id, ask, told } }) => {
  turn = turn.then(() => alone(() => withFile((handle) => ASKED[ask](handle, told)))).then(
    (found) => postMessage({ id, found }),
    (error) => postMessage({ id, error: error?.name ?? "Error" }),
  );
};

// One tab at a time holds the file; where a browser has no locks it is tried again.
async function alone(work, rounds = ROUNDS) {
  if (navigator.locks) return navigator.locks.request("bailee-journal", work);
  return work().catch((error) => {
    if (error.name !== "NoModificationAllowedError" || !rounds) throw error;
    return new Promise((again) => setTimeout(again, 20)).then(() => alone(work, rounds - 1));
  });
}

async function withFile(work) {
  file ??= await made();
  const handle = await file.createSyncAccessHandle();
  try {
    return await work(handle);
  } finally {
    await handle.close();
  }
}

async function made() {
  const root = await navigator.storage.getDirectory();
  return (await root.getDirectoryHandle("bailee-sign", { create: true })).getFileHandle("journal", { create: true });
}

const ASKED = {
  // Its room is taken while there is some: what is signed on a disk that is full goes into it.
  async open(handle) {
    const size = await handle.getSize();
    if (size < ROOM) await put(handle, new Uint8Array(ROOM - size), size);
  },

  async read(handle) {
    return [...(await read(handle)).rows.values()];
  },

  async keep(handle, { rows, shelf }) {
    const shelved = shelf && shelve(shelf);
    await append(handle, rows).finally(() => shelved);
  },

  async drop(handle, told) {
    const { rows, end } = await read(handle);
    const gone = told.filter((row) => rows.delete(nameOf(row)));
    if (!gone.length) return;
    await put(handle, rows.size ? lines([{ gone }]) : new Uint8Array(end), rows.size ? end : 0);
  },
};

async function append(handle, told) {
  const { rows, end } = await read(handle);
  const fresh = told.filter((row) => rows.get(nameOf(row))?.text !== row.text);
  if (fresh.length) await put(handle, lines(fresh), end);
}

// A copy more; one that cannot be made stops nothing.
async function shelve({ name, answers }) {
  const shelf = await caches.open(name).catch(() => null);
  await Promise.all(answers.map(([address, text]) => shelf?.put(address, new Response(text)).catch(() => null)));
}

const nameOf = ({ kid, seq }) => `${kid} ${seq}`;

const lines = (records) => new TextEncoder().encode(`${records.map((each) => `\n${JSON.stringify(each)}\n`).join("")}\0`);

async function read(handle) {
  const all = await used(handle);
  const end = all.length;
  const rows = new Map();
  for (const line of new TextDecoder().decode(all).split("\n")) {
    const record = whole(line);
    for (const each of record?.gone ?? []) rows.delete(nameOf(each));
    if (record?.text) rows.set(nameOf(record), record);
  }
  return { rows, end };
}

// What stands before the first NUL. Most of the file is empty, and is not read.
async function used(handle) {
  const size = await handle.getSize();
  for (let many = CHUNK; ; many *= 4) {
    const all = new Uint8Array(Math.min(many, size));
    handle.read(all, { at: 0 });
    const end = all.indexOf(0);
    if (end >= 0 || all.length === size) return end < 0 ? all : all.subarray(0, end);
  }
}

function whole(line) {
  try {
    return JSON.parse(line);
  } catch {
    return null;
  }
}

async function put(handle, bytes, at) {
  if (handle.write(bytes, { at }) !== bytes.length) throw new DOMException("not all of it was written", "QuotaExceededError");
  await handle.flush();
}
