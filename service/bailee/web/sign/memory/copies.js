// Beside the database: each signed text until it is recorded, the mark that a key was made here, and whether there is
// room. Texts are kept in the journal, or where a browser does not write it, in private files of their own or its small
// storage; and all of it once more as an answer on a shelf beside the app's own files. Chromium now and then deletes the
// database after it was killed or the disk was full, and loses the newest lines of the list of private files; the journal
// needs no new line. Then what was signed is sent from here, and the screen says that the key is lost, never that there is
// none yet.

import { journalWorker } from "./files.js";
import { Journal } from "./journal.js";
import { Unusable } from "./store.js";

const MARK = "key-made";
const SHELF = "bailee-unsent";
const ON_SHELF = "/sign/unsent/";
const ROOM = 2 * 1024 * 1024;
const FULL = ["QuotaExceededError", "NoModificationAllowedError"];

export class Copies {
  constructor(files, small, shelf) {
    Object.assign(this, { files, small, shelf, journal: null });
  }

  static async here() {
    const shelf = globalThis.caches?.open(SHELF).catch(() => null);
    const root = await globalThis.navigator?.storage?.getDirectory?.().catch(() => null);
    const canWrite = typeof globalThis.FileSystemFileHandle?.prototype?.createWritable === "function";
    const files = root && canWrite ? await root.getDirectoryHandle("bailee-sign", { create: true }).catch(() => null) : null;
    return new Copies(files, smallStorage(), (await shelf) ?? null);
  }

  // Whether the browser forgets everything when its window closes: some refuse their private files then.
  static async isPrivate() {
    const storage = globalThis.navigator?.storage;
    if (typeof storage?.getDirectory !== "function") return false;
    return storage.getDirectory().then(() => false, (error) => error.name === "SecurityError");
  }

  // Where texts go from now on, if this browser writes it. Nobody waits for a worker that does not answer.
  async openJournal() {
    if (!this.files || typeof Worker !== "function") return;
    this.opening ??= (async () => Journal.opened(journalWorker()))().catch(() => null);
    this.journal = await this.opening;
  }

  // Written and not kept: the file stays empty, and another tab may do the same at once.
  async proveRoom() {
    if (!this.files) return;
    try {
      const writable = await this.writable("room");
      await writable.write(new Uint8Array(ROOM)).finally(() => writable.abort().catch(() => null));
    } catch (error) {
      if (FULL.includes(error.name)) throw new Unusable("full", error);
    }
  }

  // Before the database has them: where a file cannot be written, for whatever reason, nothing is signed and nothing stays.
  // On a disk that is filling up that is told in several ways, and a key without copies is lost with what it signed.
  async keepFirst(rows) {
    try {
      if (this.journal) await this.inJournal(rows);
      else if (this.files) await this.inOwnFiles(rows);
      else await this.keep(rows);
    } catch (error) {
      await this.drop(rows);
      throw new Unusable(FULL.includes(error.name) ? "full" : "broken", error);
    }
  }

  async inOwnFiles(rows) {
    const shelved = rows.map((row) => this.shelve(nameOf(row), textOf(row)));
    try {
      for (const row of rows) await this.write(nameOf(row), textOf(row));
    } finally {
      await Promise.all(shelved); // or one would be there after it was dropped
    }
  }

  async keep(rows) {
    const isWritten = this.journal && (await this.inJournal(rows).then(() => true, () => false));
    if (!isWritten) for (const row of rows) await this.put(nameOf(row), textOf(row));
  }

  // And on the shelf, by the same worker: on a slow phone this page would be a third longer over a signature.
  inJournal(rows) {
    const answers = rows.map((row) => [`${ON_SHELF}${nameOf(row)}`, textOf(row)]);
    return this.journal.keep(rows, this.shelf && { name: SHELF, answers });
  }

  async drop(rows) {
    await this.journal?.drop(rows).catch(() => null);
    for (const row of rows) await this.remove(nameOf(row));
  }

  // What was refused may lie here for ever: out of the journal, which would never be empty again, into a file of its own.
  async setApart(rows) {
    if (!this.journal) return;
    for (const row of rows) {
      if (await this.inFiles(nameOf(row), textOf(row))) await this.journal.drop([row]).catch(() => null);
    }
  }

  // The mark is never written anew while it is there: a browser that dies over it on a full disk may keep neither. Of a
  // thousand entries that were recorded a few may still lie here.
  async tidy(device, waiting, recorded) {
    await this.openJournal();
    if (!(await this.get(MARK))) await this.mark(device);
    await this.keep(waiting);
    const names = new Set([...(await this.names()), ...(await this.written()).map(nameOf)]);
    await this.drop(recorded.filter((row) => names.has(nameOf(row))));
  }

  // What may not have been sent, in order; of other keys than this one, where one is given.
  async unsent(but = null) {
    const found = new Map();
    for (const name of await this.names()) {
      const text = name.startsWith("unsent-") ? await this.get(name) : null;
      if (text) found.set(name, JSON.parse(text));
    }
    for (const each of await this.written()) found.set(nameOf(each), each);
    return [...found.values()].filter((each) => each.kid !== but).sort((one, other) => one.seq - other.seq);
  }

  // What the journal has; where there is none it is not made.
  async written() {
    const isThere = await this.files?.getFileHandle("journal").then(() => true, () => false);
    if (isThere) await this.openJournal();
    return (await this.journal?.read().catch(() => null)) ?? [];
  }

  // Whether a picture is in the private files now; Unusable where there is no room for it.
  async keepPicture(digest, bytes) {
    await this.proveRoom();
    return this.inFiles(`picture-${digest}`, bytes);
  }

  async picture(digest) {
    const file = await this.files?.getFileHandle(`picture-${digest}`).then((handle) => handle.getFile()).catch(() => null);
    return file ? new Uint8Array(await file.arrayBuffer()) : null;
  }

  mark(device) {
    return this.put(MARK, JSON.stringify(device));
  }

  // Of the key that was made here, {kid, …}. What a key signed says so as well.
  async marked() {
    const text = await this.get(MARK);
    return text ? JSON.parse(text) : ((await this.unsent())[0] ?? null);
  }

  // A copy that cannot be made stops nothing: what it copies is durable already.
  async put(name, text) {
    const [isInFiles] = await Promise.all([this.inFiles(name, text), this.shelve(name, text)]);
    if (isInFiles && name !== MARK) return;
    try {
      this.small?.setItem(`bailee-sign/${name}`, text);
    } catch {
      // The database has it.
    }
  }

  async shelve(name, text) {
    await this.shelf?.put(`${ON_SHELF}${name}`, new Response(text)).catch(() => null);
  }

  async inFiles(name, text) {
    if (!this.files) return false;
    return this.write(name, text).then(() => true, () => false);
  }

  async get(name) {
    const kept = await this.files?.getFileHandle(name).then((handle) => handle.getFile()).then((file) => file.text())
      .catch(() => null);
    if (kept) return kept;
    const shelved = await this.shelf?.match(`${ON_SHELF}${name}`).then((answer) => answer?.text()).catch(() => null);
    return shelved || (this.small?.getItem(`bailee-sign/${name}`) ?? null);
  }

  async remove(name) {
    await this.files?.removeEntry(name).catch(() => null);
    await this.shelf?.delete(`${ON_SHELF}${name}`).catch(() => null);
    this.small?.removeItem(`bailee-sign/${name}`);
  }

  async names() {
    const found = new Set();
    if (this.files) for await (const name of this.files.keys()) found.add(name);
    for (const { url } of (await this.shelf?.keys().catch(() => null)) ?? []) found.add(url.split(ON_SHELF)[1]);
    for (let i = 0; i < (this.small?.length ?? 0); i += 1) {
      const name = this.small.key(i);
      if (name.startsWith("bailee-sign/")) found.add(name.slice("bailee-sign/".length));
    }
    return found;
  }

  async writable(name) {
    return (await this.files.getFileHandle(name, { create: true })).createWritable();
  }

  async write(name, content) {
    const writable = await this.writable(name);
    try {
      await writable.write(content);
    } catch (error) {
      await writable.abort().catch(() => null);
      throw error;
    }
    await writable.close();
  }
}

const nameOf = ({ kid, seq }) => `unsent-${kid}-${seq}`;

const textOf = ({ kid, seq, text, disclosures }) => JSON.stringify({ kid, seq, text, disclosures });

function smallStorage() {
  try {
    return globalThis.localStorage ?? null;
  } catch {
    return null;
  }
}
