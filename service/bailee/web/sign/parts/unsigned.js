// What was typed on a screen and is not signed yet: kept on this phone, screen by screen, so that a closed tab loses none
// of it. It goes in the one write that keeps the signature, so that nothing signed is ever offered once more.

const MOST_MS = 7 * 24 * 3600 * 1000;

export class Unsigned {
  constructor(phone) {
    Object.assign(this, { phone, name: null, fields: {}, text: "", next: null, writing: null });
  }

  // `fields` of the screen at `where`, filled with what was typed there: when that was (ms), or null.
  async begin(where, fields, isShown) {
    this.name = null;
    if (!fields) return null;
    const name = `typed/${where}`;
    const before = await this.phone.store.recall(name);
    let isOther = false;
    for (const [member, value] of Object.entries(before?.typed ?? {})) {
      const field = fields[member];
      if (!field) continue;
      const was = JSON.stringify(field.kept());
      await field.put(value);
      if (JSON.stringify(field.kept()) === was) continue;
      field.element?.closest("details")?.setAttribute("open", ""); // nothing is signed that is out of sight
      isOther = true;
    }
    if (isShown()) Object.assign(this, { name, fields, text: JSON.stringify(typedIn(fields)) });
    return isOther ? before.at : null;
  }

  // With each key and touch; one write at a time, the newest last. Without room for it typing goes on.
  keep() {
    if (!this.name) return;
    const typed = typedIn(this.fields);
    const text = JSON.stringify(typed);
    if (text === this.text) return;
    this.text = text;
    this.next = { name: this.name, at: this.phone.now(), typed };
    this.writing ??= this.written();
  }

  async written() {
    while (this.next) {
      const each = this.next;
      this.next = null;
      await this.phone.store.remember(each.name, each).catch(() => null);
    }
    this.writing = null;
  }

  // While it is signed nothing is written: the name, for whoever forgets it with the signature, or goes on.
  async pause() {
    const { name } = this;
    this.name = null;
    await this.writing;
    return name;
  }

  goOn(name) {
    this.name ??= name;
    this.keep();
  }

  // Discarded, or kept elsewhere from now on.
  async drop() {
    const { name } = this;
    Object.assign(this, { name: null, next: null });
    await this.writing;
    if (name) await this.phone.store.forget(name);
  }

  // Nobody comes back after a week to what they began.
  async tidy() {
    const old = (await this.phone.store.under("typed/")).filter((each) => this.phone.now() - each.at > MOST_MS);
    for (const each of old) await this.phone.store.forget(each.name);
  }
}

const typedIn = (fields) => Object.fromEntries(Object.entries(fields).map(([name, each]) => [name, each.kept()]));
