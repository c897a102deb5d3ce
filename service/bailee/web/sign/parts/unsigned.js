// What was typed on a screen and is not signed yet: kept on this phone, screen by screen, so that a closed tab loses none
// of it. It goes in the one write that keeps the signature, so that nothing signed is ever offered once more; and without
// one when nobody will sign it, or when it may hold what was erased meanwhile.

const MOST_MS = 7 * 24 * 3600 * 1000;
const TYPED = "typed/";
const OF_A_KEY = [TYPED, "draft/", "sketch/", "kept/"]; // also runs, sketches and answers: nobody can look at them any more

export class Unsigned {
  constructor(phone) {
    Object.assign(this, { phone, name: null, fields: {}, text: "", next: null, writing: null });
  }

  // `fields` of the screen at `where`, filled with what was typed there: when that was (ms), or null.
  async begin(where, fields, isShown) {
    this.name = null;
    if (!fields) return null;
    const name = `${TYPED}${where}`;
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

  // Nobody comes back after a week to what they began, or signs it with a key that has ended.
  async tidy() {
    if (this.phone.standing?.end) return this.dropAll(OF_A_KEY);
    const erased = await this.erased();
    const isOver = (each) => this.phone.now() - each.at > MOST_MS || erased.some(({ at, numbers }) => each.at <= at && isAbout(each, numbers));
    for (const each of (await this.all()).filter(isOver)) await this.phone.store.forget(each.name);
    return null;
  }

  // The forms of which private fields were erased: when (ms), and the numbers by which what is typed is about one.
  async erased() {
    const forms = this.phone.brief?.erased ?? [];
    const runs = forms.length ? await this.phone.store.drafts() : [];
    const numbers = (form) => [form, ...runs.filter((each) => each.form === form).map((each) => each.sample)];
    return forms.map(({ form, recorded }) => ({ at: Date.parse(recorded), numbers: numbers(form) }));
  }

  all() {
    return this.phone.store.under(TYPED);
  }

  async dropAll(beginnings = [TYPED]) {
    await this.drop();
    for (const each of beginnings) await this.phone.store.forgetUnder(each);
  }
}

// As a number is typed, with blanks or without.
function isAbout({ name, typed }, numbers) {
  const text = `${name} ${JSON.stringify(typed)}`.replaceAll(" ", "").toUpperCase();
  return numbers.some((each) => text.includes(each));
}

const typedIn = (fields) => Object.fromEntries(Object.entries(fields).map(([name, each]) => [name, each.kept()]));
