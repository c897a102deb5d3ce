// The signed texts in a file of their own, which a worker writes.

const PATIENCE_MS = 10_000;

export class Journal {
  // Null where this browser does not write so, or its worker does not answer: nobody waits for ever.
  static async opened(worker) {
    const found = new Journal(worker);
    const late = new Promise((no) => setTimeout(no, PATIENCE_MS));
    const isOpen = await Promise.race([found.ask("open").then(() => true, () => false), late]);
    if (!isOpen) worker.terminate();
    return isOpen ? found : null;
  }

  constructor(worker) {
    Object.assign(this, { worker, asked: new Map(), last: 0 });
    worker.onmessage = ({ data: { id, found, error } }) => {
      const { resolve, reject } = this.asked.get(id);
      this.asked.delete(id);
      if (error) reject(new DOMException("journal", error));
      else resolve(found);
    };
    worker.onerror = () => {
      for (const { reject } of this.asked.values()) reject(new DOMException("journal", "InvalidStateError"));
      this.asked.clear();
    };
  }

  // Each {kid, seq, text, disclosures}.
  read() {
    return this.ask("read");
  }

  // On the disk when it resolves; and on a shelf of answers, {name, answers: [address, text] of each}, where there is one.
  keep(rows, shelf) {
    return this.ask("keep", { rows: rows.map(bare), shelf });
  }

  drop(rows) {
    return this.ask("drop", rows.map(({ kid, seq }) => ({ kid, seq })));
  }

  ask(ask, told) {
    return new Promise((resolve, reject) => {
      this.asked.set((this.last += 1), { resolve, reject });
      this.worker.postMessage({ id: this.last, ask, told });
    });
  }
}

const bare = ({ kid, seq, text, disclosures }) => ({ kid, seq, text, disclosures });
