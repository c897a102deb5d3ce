// What this device keeps, in IndexedDB: its key, every statement it signed, the newest entry it saw of each chain, what
// it knows for a place without a network, and what is half done.
//
// A write that must outlive a power cut is `strict`: the default durability may not wait for the disk (W3C IndexedDB 2.9,
// "durability hint"), and then a counter would be used twice. A connection that died (a full disk, or a phone that put
// the page to sleep) is opened again only after room was proven: Chromium takes a database that it cannot open on a full
// disk for broken, and deletes it with the key and with what was not sent.

export class Unusable extends Error {
  // `code`: blocked (by a setting), full, broken.
  constructor(code, cause) {
    super(code, { cause });
    this.code = code;
  }
}

const NAME = "bailee-sign";
const STORES = { key: {}, statement: { keyPath: "seq" }, head: {}, memory: {} };
const DEAD = ["InvalidStateError", "UnknownError"];
const BLOCKED = ["SecurityError", "NotAllowedError"];

export class Store {
  constructor(proveRoom, indexed = () => globalThis.indexedDB) {
    Object.assign(this, { proveRoom, indexed, opening: null, first: null });
  }

  // The database, opened once; {isNew} when there was none before.
  open() {
    this.opening ??= this.opened().catch((error) => {
      this.opening = null;
      throw error;
    });
    return this.opening;
  }

  async opened() {
    await this.proveRoom();
    return new Promise((resolve, reject) => {
      let asked;
      let isNew = false;
      try {
        asked = this.indexed().open(NAME, 1);
      } catch (error) {
        reject(new Unusable("blocked", error));
        return;
      }
      asked.onupgradeneeded = () => {
        isNew = true;
        for (const [name, options] of Object.entries(STORES)) asked.result.createObjectStore(name, options);
      };
      asked.onsuccess = () => {
        const database = asked.result;
        database.onclose = () => (this.opening = null);
        database.onversionchange = () => database.close();
        resolve({ database, isNew });
      };
      asked.onerror = () => reject(new Unusable(codeOf(asked.error), asked.error));
    });
  }

  async transact(names, mode, work, durability = "strict") {
    const { database } = await this.open();
    if (mode === "readwrite") this.first = null;
    try {
      return await run(database, names, mode, work, durability);
    } catch (error) {
      if (DEAD.includes(error?.name)) this.opening = null;
      throw error;
    }
  }

  read(names, work) {
    return this.transact(names, "readonly", work, "relaxed");
  }

  get(store, name) {
    return this.read([store], (objects) => objects.get(name));
  }

  recall(name) {
    return this.get("memory", name);
  }

  remember(name, value) {
    return this.transact(["memory"], "readwrite", (memory) => memory.put(value, name));
  }

  forget(name) {
    return this.transact(["memory"], "readwrite", (memory) => memory.delete(name));
  }

  forgetUnder(name) {
    return this.transact(["memory"], "readwrite", (memory) => memory.delete(beginning(name)));
  }

  // The device: {pair, device: {org, origin, logKey, kid, person, …}}; a second key is never put over the first.
  makeDevice(device) {
    return this.transact(["key"], "readwrite", (key) => key.add(device, "device"));
  }

  changeDevice(device) {
    return this.transact(["key"], "readwrite", (key) => key.put(device, "device"));
  }

  device() {
    return this.get("key", "device");
  }

  // The device, and what it knows for a place without a network: undefined where there is none. What the first screen
  // asks is read along, for a phone pays for each transaction, and holds until something is written.
  async atStart() {
    const found = {};
    await this.read(["key", "memory", "statement"], (key, memory, statement) => {
      const keep = (asked, name) => (asked.onsuccess = ({ target }) => (found[name] = target.result));
      keep(key.get("device"), "device");
      for (const name of ["standing", "brief", "skew", "stopped"]) keep(memory.get(name), name);
      keep(statement.getAll(), "rows");
      keep(memory.getAll(beginning("draft/")), "drafts");
    });
    this.first = found;
    return found;
  }

  // What the outbox needs to sign on these chains.
  async place(chains) {
    const found = { newest: null, heads: {} };
    await this.read(["key", "statement", "head", "memory"], (key, statement, head, memory) => {
      key.get("device").onsuccess = ({ target }) => {
        found.key = target.result?.pair.privateKey;
        found.device = target.result?.device;
      };
      statement.openCursor(null, "prev").onsuccess = ({ target }) => {
        found.newest = target.result?.value ?? null;
      };
      for (const chain of chains) {
        head.get(chain).onsuccess = ({ target }) => (found.heads[chain] = target.result);
      }
      memory.get("seen").onsuccess = ({ target }) => (found.seen = target.result ?? null);
      memory.get("stopped").onsuccess = ({ target }) => (found.stopped = target.result ?? null);
    });
    return found;
  }

  // Whether these rows are kept; not when another tab used the counter first. What is `done` with them is forgotten. Requests
  // of a transaction are done in their order: nobody waits for the comparison before the rows are on their way.
  async append(newest, rows, done = []) {
    let isTaken = false;
    const add = (statement, memory, transaction) => {
      statement.openKeyCursor(null, "prev").onsuccess = ({ target }) => {
        isTaken = (target.result?.key ?? 0) !== newest;
        if (isTaken) transaction.abort();
      };
      for (const row of rows) statement.add(row);
      for (const each of done) memory.delete(each);
    };
    try {
      await this.transact(["statement", "memory"], "readwrite", add);
      return true;
    } catch (error) {
      if (isTaken || error?.name === "ConstraintError") return false;
      throw error;
    }
  }

  find(seq) {
    return this.get("statement", seq);
  }

  async all() {
    return this.first?.rows ?? this.read(["statement"], (statement) => statement.getAll());
  }

  async inStates(states) {
    return (await this.all()).filter((row) => states.includes(row.state));
  }

  // Rows with what became of them. What is registered stays so; an answer to it moves the newest entry seen.
  settle(rows) {
    return this.transact(["statement", "head"], "readwrite", (statement, head) => {
      for (const row of rows) {
        statement.get(row.seq).onsuccess = ({ target }) => {
          if (target.result.state !== "registered") statement.put({ ...target.result, state: row.state, answer: row.answer });
        };
        if (row.state === "registered") saw(head, row.answer.chain, row.answer.n, row.answer.leaf);
      }
    });
  }

  // What is private in a row goes, and what was signed stays.
  bare(seq) {
    return this.transact(["statement"], "readwrite", (statement) => {
      statement.get(seq).onsuccess = ({ target }) => statement.put({ ...target.result, disclosures: [] });
    });
  }

  // By the service's bare word: the next word takes the place of one before, or a false number would be named for ever;
  // nothing older than what this key has there itself does.
  told(chain, n, leaf) {
    return this.transact(["head"], "readwrite", (head) => {
      head.get(chain).onsuccess = ({ target }) => {
        if (!target.result || target.result.isTold || target.result.n <= n) head.put({ n, leaf, isTold: true }, chain);
      };
    });
  }

  stop(why) {
    return this.remember("stopped", why);
  }

  async stopped() {
    return this.first ? this.first.stopped : this.recall("stopped");
  }

  under(name) {
    return this.read(["memory"], (memory) => memory.getAll(beginning(name)));
  }

  async drafts() {
    return this.first?.drafts ?? this.under("draft/");
  }
}

const beginning = (name) => IDBKeyRange.bound(name, `${name}\uffff`);

function saw(head, chain, n, leaf) {
  head.get(chain).onsuccess = ({ target }) => {
    if ((target.result?.n ?? 0) < n) head.put({ n, leaf }, chain);
  };
}

// Nothing but requests of the transaction may be awaited inside `work`, or it would end.
function run(database, names, mode, work, durability) {
  return new Promise((resolve, reject) => {
    const transaction = database.transaction(names, mode, { durability });
    let asked;
    transaction.oncomplete = () => resolve(asked?.result);
    transaction.onabort = () => reject(transaction.error ?? new Error("could not be kept"));
    asked = work(...names.map((name) => transaction.objectStore(name)), transaction);
  });
}

function codeOf(error) {
  if (BLOCKED.includes(error?.name) || /insecure/.test(error?.message ?? "")) return "blocked";
  return error?.name === "QuotaExceededError" ? "full" : "broken";
}
