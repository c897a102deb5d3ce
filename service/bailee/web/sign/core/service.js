// The service, asked in this device's name. An answer is JSON of ours, a problem with a sentence, or no answer.

export class Unreachable extends Error {}
export class Problem extends Error {
  constructor(status, told) {
    super(told.detail ?? "");
    Object.assign(this, { status, code: told.code ?? "", told });
  }
}

const MOST_AHEAD_S = 2 * 24 * 3600; // A token by another clock is never one for next month.
const WORTH_SAYING_S = 60; // As at a terminal.
const MOST_SKEW_S = 10 ** 10;
const SLOWEST_MS = 30_000; // A phone that slept over an answer has measured its sleep.
const ANSWER_MS = 30_000; // A network that takes everything and answers nothing is none.
const ENTRIES_MS = 120_000; // Many statements, from the edge of a network.
const JSON_TYPE = /^application\/(problem\+)?json/;
const TEXT_TYPE = /^text\/plain/;
const IN_TEXT = "/checkpoint"; // Everything else is asked in JSON.

export class Service {
  // `token` makes one for now (s); `heard(isThere)` is called with each answer, or where there is none.
  constructor({ fetch, token, heard = () => {}, now = Date.now }) {
    Object.assign(this, { fetch, token, heard, now, skew: 0 });
  }

  // By how many seconds the service's clock is ahead, where that is worth saying; else 0.
  get wrongBy() {
    return Math.abs(this.skew) >= WORTH_SAYING_S ? this.skew : 0;
  }

  // Seconds since 1970 by the service's clock, as far as it was heard.
  get seconds() {
    return Math.floor(this.now() / 1000) + (this.skew <= MOST_AHEAD_S ? this.skew : 0);
  }

  // A token made by a clock that is wrong has run out: the answer tells the time, and another is made once.
  async get(path, options = {}) {
    const before = this.skew;
    return this.got(path, options).catch((error) => {
      if (error.code === "token-expired" && this.skew !== before) return this.got(path, options);
      throw error;
    });
  }

  async got(path, { etag = null } = {}) {
    const headers = { authorization: `Bearer ${await this.token(this.seconds)}` };
    if (etag) headers["if-none-match"] = etag;
    return this.ask(path, { headers });
  }

  async question(path, body) {
    const headers = { authorization: `Bearer ${await this.token(this.seconds)}`, "content-type": "application/json" };
    return (await this.ask(path, { method: "POST", headers, body: JSON.stringify(body) })).told;
  }

  // Without saying who asks: entries are signed, the log is public.
  async open(path, body = null) {
    const asked = body === null
      ? {}
      : { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) };
    return (await this.ask(path, asked)).told;
  }

  async ask(path, asked) {
    const began = this.now();
    const signal = AbortSignal.timeout(path === "/entries" ? ENTRIES_MS : ANSWER_MS);
    const answer = await this.fetch(path, { cache: "no-store", redirect: "error", signal, ...asked }).catch((error) => {
      this.heard(false);
      throw new Unreachable("no answer", { cause: error });
    });
    const type = answer.headers.get("content-type") ?? "";
    const isJson = JSON_TYPE.test(type);
    const told = answer.status === 304 ? null : await this.read(answer, isJson);
    this.compare(answer.headers.get("ledger-time") ?? told?.now, began);
    // A page of the network between, about itself, comes with status 200 too.
    const isFound = answer.ok && (path === IN_TEXT ? TEXT_TYPE.test(type) : isJson && told !== null);
    const isOurs = isFound || answer.status === 304 || (isJson && typeof told?.code === "string");
    if (!isOurs || answer.status >= 500 || answer.status === 429) {
      this.heard(false);
      throw new Unreachable(told?.detail ?? `status ${answer.status}`);
    }
    this.heard(true);
    if (!answer.ok && answer.status !== 304) throw new Problem(answer.status, told);
    return { told, etag: answer.headers.get("etag"), status: answer.status };
  }

  compare(time, began) {
    const now = this.now();
    const skew = Math.round((Date.parse(time) - now) / 1000);
    if (Math.abs(skew) <= MOST_SKEW_S && now - began <= SLOWEST_MS) this.skew = skew;
  }

  async read(answer, isJson) {
    try {
      return isJson ? await answer.json() : await answer.text();
    } catch (error) {
      this.heard(false);
      throw new Unreachable("the answer ended early", { cause: error });
    }
  }
}
