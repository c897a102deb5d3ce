// This device: its key, what it signed, what it knows for a place without a network, and the service. No screen is
// known here; whoever shows one is told by `changed`.

import { inForce } from "./core/corrections.js";
import * as facts from "./core/facts.js";
import { Broken, readCheckpoint, readLogKey, requireContinued } from "./core/log.js";
import * as moments from "./core/moments.js";
import { asSent, Outbox, requireOwn, Stopped } from "./core/outbox.js";
import { Problem, Service, Unreachable } from "./core/service.js";
import { claimsOf, keyProof, makeKey, nameOf, token, TYP, verifies } from "./core/statement.js";
import { digest, utf8 } from "./core/bytes.js";
import { memory } from "./early.js";
import { Copies } from "./memory/copies.js";

export class CannotKeepKeys extends Error {}
// The ledger says why this key may not sign this.
export class MayNot extends Error {}

const AGAIN_S = [1, 5, 15, 60];

export class Phone {
  constructor(vocabulary, { fetch = (...asked) => globalThis.fetch(...asked), now = Date.now } = {}) {
    Object.assign(this, { vocabulary, now, changed: () => {}, settled: () => {}, alarmed: () => {}, isThere: false, isAsked: false, tries: 0 });
    this.service = new Service({ fetch, now, heard: (isThere) => this.heard(isThere), token: (s) => this.token(s) });
  }

  // What there is: "key", "lost" (one was made here and is gone), "private", or "none".
  async open() {
    const { copies, store, kept } = await memory();
    Object.assign(this, { copies, store });
    this.outbox = new Outbox(this.store, this.copies, {
      locks: navigator.locks, now: this.now, offset: moments.hereText, skew: () => this.service.wrongBy,
    });
    if (!kept.device) {
      this.mark = await this.copies.marked();
      if (this.mark) return "lost";
      return (await Copies.isPrivate()) ? "private" : "none";
    }
    this.use(kept.device);
    this.standing = kept.standing;
    this.brief = kept.brief;
    this.keptSkew = kept.skew ?? 0;
    this.service.skew = this.keptSkew;
    return "key";
  }

  // What a browser that was killed left undone beside the database; nobody waits for it before the first screen.
  async tidy() {
    if (!this.device) return;
    await this.copies.tidy(this.device, await this.store.inStates(["waiting"]), await this.store.inStates(["registered"]));
  }

  use({ pair, device }) {
    Object.assign(this, { pair, device });
  }

  token(seconds, typ = TYP.access) {
    return token(this.pair.privateKey, this.device, seconds, typ);
  }

  // Made on a tap alone: browsers load pages hidden, with an empty memory. A second tap goes on with the first key.
  async makeKey({ org, person, name }) {
    const { origin, log_key: logKey } = await this.service.open("/health");
    await readLogKey(logKey);
    let pair;
    try {
      pair = await makeKey();
      const device = { org, origin, logKey, person, name, ...(await nameOf(pair.publicKey)), made: this.now() };
      await this.store.makeDevice({ pair, device });
    } catch (error) {
      if (error?.name !== "ConstraintError") {
        throw ["DataCloneError", "NotSupportedError", "SyntaxError"].includes(error?.name) ? new CannotKeepKeys() : error;
      }
    }
    const kept = await this.store.device();
    const message = utf8("probe");
    const signature = kept && (await crypto.subtle.sign({ name: "Ed25519" }, kept.pair.privateKey, message));
    const raw = kept && new Uint8Array(await crypto.subtle.exportKey("raw", kept.pair.publicKey));
    const isSound = kept && !kept.pair.privateKey.extractable && (await verifies(raw, new Uint8Array(signature), message));
    if (!isSound) throw new CannotKeepKeys();
    this.use(kept);
    await this.copies.mark(this.device);
    this.copies.openJournal();
    navigator.storage?.persist?.().catch(() => null); // asked, never awaited: some browsers do not answer
  }

  // The request, as `bailee key request` writes it.
  async request() {
    const { kid, jwk, org, origin, person, name } = this.device;
    const proof = await keyProof(this.pair.privateKey, this.device, this.service.seconds);
    return { kid, jwk, organization: org, origin, proof, person, device: name };
  }

  // For another organization or name, with the same key, as long as nobody let it in: nothing was signed with it.
  async askAnew({ org, person, name }) {
    if (await this.askStanding()) return;
    const made = { pair: this.pair, device: { ...this.device, org, person, name } };
    await this.store.changeDevice(made);
    this.use(made);
  }

  // How the ledger knows this key: asked before anything is signed, wherever there is a network. Null: not enrolled.
  async askStanding() {
    let told;
    try {
      ({ told } = await this.service.get("/devices/me"));
    } catch (error) {
      if (error instanceof Problem && error.code === "unknown-key") return null;
      throw error;
    } finally {
      await this.keepSkew();
    }
    await this.outbox.requireNotBehind(told.newest);
    const { role, person, end, missing, highest, gaps } = told;
    this.there = Array.isArray(gaps) ? { highest, gaps } : null;
    this.standing = { role, person, end, missing, asked: this.now() };
    await this.store.remember("standing", this.standing);
    this.isAsked = true;
    return this.standing;
  }

  async sign(...drafts) {
    const required = (act) => this.vocabulary.acts[act]?.data.required;
    const dropped = drafts.map((each) => ({ ...each, data: facts.present(each.data, required(each.act)) }));
    for (const { act, data } of dropped) facts.require(this.vocabulary, act, data);
    if (!this.isAsked) {
      await this.askStanding().catch((error) => {
        if (!(error instanceof Unreachable || error instanceof Problem)) throw error;
      });
    }
    if (this.standing?.end) throw new Stopped({ code: "ended" });
    for (const each of dropped) await this.requireMay(each);
    const rows = await this.outbox.sign(dropped);
    await this.changed();
    this.sync();
    return rows;
  }

  // Of administration the ledger is asked first, where it can be: a refusal afterwards costs a number.
  async requireMay({ chain, act, data }) {
    if (!chain.startsWith("org/")) return;
    const told = await this.service.question("/permission", { chain, act, data }).catch((error) => {
      if (!(error instanceof Unreachable)) throw error instanceof Problem ? new MayNot(error.message) : error;
      return { may: true };
    });
    if (!told.may) throw new MayNot(told.why_not);
  }

  // Sends what waits, looks at the log, loads the brief. A network that is not there is no error.
  async sync(states = ["waiting"]) {
    if (!this.device) return;
    try {
      if (!this.isAsked && !(await this.askStanding())) return;
      const post = (body) => this.service.open("/entries", body);
      if (this.there) await this.outbox.sendLacking(this.there, post);
      this.there = null;
      const sent = await this.outbox.send(post, states);
      await this.sendCopies();
      if (sent.recorded || !this.hasLooked) await this.look();
      const isNews = !this.standing.end && (await this.loadBrief());
      this.tries = 0;
      if (this.standing.end) await this.alarmed();
      else if (sent.recorded || sent.refused || isNews) await this.settled();
    } catch (error) {
      await this.notSynced(error);
    } finally {
      await this.keepSkew();
      await this.changed();
      await this.plan();
    }
  }

  // For a place where nobody can be asked; a clock that is right is not written down each time.
  async keepSkew() {
    const { wrongBy } = this.service;
    if (wrongBy === this.keptSkew) return;
    await this.store.remember("skew", wrongBy).then(() => (this.keptSkew = wrongBy), () => null);
  }

  async notSynced(error) {
    if (error instanceof Broken) await this.outbox.stop({ code: error.code, ...error.facts }).catch(() => null);
    if (error instanceof Broken || error instanceof Stopped) return this.alarmed();
    if (error instanceof Problem && error.code === "revoked-key") {
      await this.askStanding().catch(() => null);
      return this.alarmed();
    }
    if (!(error instanceof Unreachable || error instanceof Problem)) throw error;
    return null;
  }

  // While anything waits it is tried again: no event tells that only the service was away.
  async plan() {
    clearTimeout(this.timer);
    if (!(await this.store.inStates(["waiting"])).length) return;
    this.timer = setTimeout(() => this.sync(), AGAIN_S[Math.min(this.tries, AGAIN_S.length - 1)] * 1000);
    this.tries += 1;
  }

  async look() {
    const before = await this.store.recall("seen");
    let note;
    try {
      note = await this.service.open("/checkpoint");
    } catch (error) {
      if (error instanceof Problem && error.status === 404 && !before) return;
      throw error;
    }
    const now = await readCheckpoint(note, this.device.logKey, this.device.origin);
    await requireContinued(before, now, (path) => this.service.open(path));
    await this.store.remember("seen", now);
    this.hasLooked = true;
  }

  async loadBrief() {
    const wasLoaded = Boolean(this.brief);
    const at = this.now(); // what is signed while it is on its way is not in it
    const answer = await this.service.get("/brief", { etag: this.brief?.etag });
    this.brief = answer.status === 304 ? { ...this.brief, at } : { ...answer.told, etag: answer.etag, at };
    if (answer.status !== 304) await this.forgetErased();
    await this.store.remember("brief", this.brief);
    for (const form of this.brief.forms) await this.store.told(`form/${form.form}`, form.length, form.head);
    return answer.status === 200 || !wasLoaded;
  }

  // What was erased at the ledger goes here too: what is private in entries of this key, not what it signed.
  async forgetErased() {
    const gone = new Map((this.brief.erased ?? []).map((each) => [`form/${each.form}`, each.statements]));
    const mayBe = (await this.store.inStates(["registered"])).filter((row) => gone.has(row.chain) && row.disclosures.length);
    for (const row of mayBe) if (gone.get(row.chain).includes(await digest(row.text))) await this.store.bare(row.seq);
  }

  // The newest entries of chains, before something is said there, and what was told of each; without an answer the order
  // is not shown.
  async see(...chains) {
    const seen = [];
    for (const chain of chains) {
      const path = chain.replace(/^form/, "/forms").replace(/^org/, "/organizations").replace(/^lot/, "/lots");
      const told = await this.service.get(path).then((answer) => answer.told, () => null);
      if (told?.head) await this.store.told(chain, told.length, told.head);
      seen.push(told);
    }
    return seen;
  }

  // The reading pages, for a working day: they take a token of this key once.
  async enterPages() {
    await this.service.open("/session", { token: await this.token(this.service.seconds, TYP.pages) });
  }

  // An answer of the service and when it came, in ms; from memory where it does not answer. Null: never asked.
  async kept(path) {
    const name = `kept/${path}`;
    const before = await this.store.recall(name);
    try {
      const answer = await this.service.get(path, { etag: before?.etag });
      const found = answer.status === 304 ? { ...before, at: this.now() } : { told: answer.told, etag: answer.etag, at: this.now() };
      await this.store.remember(name, found);
      return { ...found, isNow: true };
    } catch (error) {
      if (!(error instanceof Unreachable || error instanceof Problem)) throw error;
      return before ?? null;
    }
  }

  // Founded organizations with a name like it; null where nobody can be asked.
  nearest(name) {
    return this.service.get(`/organizations?like=${encodeURIComponent(name)}`).then((answer) => answer.told.nearest, () => null);
  }

  // What the ledger would remark of a draft; nothing where it does not answer.
  async remarks(draft) {
    return this.service.question("/readiness", draft).then((told) => told.findings, (error) => {
      if (error instanceof Unreachable || error instanceof Problem) return [];
      throw error;
    });
  }

  // Whether its role signs this act: by the registry of acts. What is not offered is no list of its own.
  may(act) {
    const may = this.vocabulary.acts[act]?.may ?? this.vocabulary.desk[act];
    return may.includes(this.standing.role);
  }

  // Whether its person packs or receives envelopes, and samples nothing.
  isAtDesk() {
    return !this.may("opened") && (this.may("sealed") || this.may("accepted"));
  }

  // The highest counter that was used here.
  async newest() {
    return (await this.store.place([])).newest?.seq ?? 0;
  }

  // Its role went to the key of a new phone: nothing that it would sign from now on counts.
  async handedOver(successor, last) {
    this.standing = { ...this.standing, end: { recorded: new Date(this.now()).toISOString(), last_good_seq: last, successor } };
    await this.store.remember("standing", this.standing);
    await this.alarmed();
  }

  // A picture that is about to be named, with its bytes: in the private files, or where there are none in the memory.
  async keepPicture({ "sha-256": digest, size, type }, bytes, form) {
    const isInFiles = await this.copies.keepPicture(digest, bytes);
    await this.store.remember(`picture/${digest}`, { digest, size, type, form, bytes: isInFiles ? null : bytes });
  }

  pictures() {
    return this.store.under("picture/");
  }

  async isPicture({ "sha-256": digest }) {
    return Boolean(await this.store.recall(`picture/${digest}`));
  }

  // Null: the browser has lost them.
  pictureBytes({ digest, bytes }) {
    return bytes ?? this.copies.picture(digest);
  }

  async dropPicture({ digest }) {
    await this.copies.remove(`picture-${digest}`);
    await this.store.forget(`picture/${digest}`);
  }

  heard(isThere) {
    this.isThere = isThere;
    this.changed();
  }

  // What this key said that may count, as it corrected it itself: not what was refused or set aside.
  async said() {
    return inForce((await this.store.all()).filter((row) => !["refused", "set aside"].includes(row.state)));
  }

  // What a lost key signed is sent from beside the database. Entries need no key to be sent.
  async sendCopies() {
    const done = { sent: 0, refused: [] };
    for (const copy of await this.copies.unsent(this.device?.kid)) {
      const { answers } = await this.service.open("/entries", asSent([copy]));
      await requireOwn([{ ...copy, chain: claimsOf(copy.text).sub }], answers);
      if (answers[0].status === "refused") {
        done.refused.push(answers[0].problem?.detail ?? "");
        await this.copies.setApart([copy]);
      } else {
        await this.copies.drop([copy]);
        done.sent += 1;
      }
    }
    return done;
  }
}
