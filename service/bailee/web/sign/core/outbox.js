// The outbox: every statement this key has signed, kept before it is sent and after. What `bailee_cli.device.outbox`
// promises, in a browser:
//
// 1. A copy of the signed text is made beside the database; then counter, link to the statement before and text are kept
//    in one durable transaction; only then the text may leave. Where the disk is too full for the copy nothing is signed:
//    the transaction may still find room, and the browser delete the database with it when it starts again. A tab that
//    dies in between leaves a statement that waits, or a copy that the next one with its counter takes the place of.
// 2. The counter is compared again inside that transaction, so two tabs cannot fork the device, with locks or without.
// 3. What was signed is sent in order, as the same bytes each time.
// 4. A refused statement stays, marked, with the reason, and holds nobody up.
// 5. Set aside, it is tried no more, and its counter is never used again.
//
// `store` keeps rows, or says that another tab was first; `copies` keeps texts outside it. Neither the screen
// nor the network is known here.

import { digest, leafHash, Malformed } from "./bytes.js";
import { Broken } from "./log.js";
import { claimsOf, conceal, isOf, writeStatement } from "./statement.js";

export class NotKept extends Error {
  constructor(cause) {
    super("not-kept", { cause });
  }
}
export class Stopped extends Error {
  constructor(why) {
    super("stopped");
    this.why = why;
  }
}

const ROUNDS = 64; // In each round one of those who sign at once is kept.
const AT_ONCE = 50;
const ALONE_MS = 10_000;

export class Outbox {
  constructor(store, copies, { locks = null, now = Date.now, offset, skew = () => 0 }) {
    Object.assign(this, { store, copies, locks, now, offset, skew });
  }

  // Drafts are {chain, act, data, private, refs}; the rows kept, all of them or none. Durable when this resolves. `done`
  // names what the memory forgets in the same write.
  sign(drafts) {
    return this.alone("sign", async () => {
      for (let round = 0; round < ROUNDS; round += 1) {
        const place = await this.store.place(drafts.map((each) => each.chain));
        if (place.stopped) throw new Stopped(place.stopped);
        const rows = await this.signed(place, drafts);
        await this.copies.keepFirst(rows);
        if (await this.kept(place.newest?.seq ?? 0, rows, drafts.flatMap((each) => each.done ?? []))) return rows;
        await this.copies.keep(await this.store.inStates(["waiting"])); // those of the tab that was first
      }
      throw new NotKept(new Error("another tab signs all the time"));
    });
  }

  async signed(place, drafts) {
    const now = this.now();
    let { seq, text: before } = place.newest ?? { seq: 0 };
    const rows = [];
    for (const draft of drafts) {
      const prev = before ? await digest(before) : null;
      const told = await conceal(draft.private ?? {});
      const after = place.heads[draft.chain]?.leaf ?? null;
      const clock = { iat: Math.floor(now / 1000), tzo: this.offset(now), skew: this.skew() };
      const said = { ...draft, ...clock, private: told.digests };
      seq += 1;
      const text = await writeStatement(place.key, place.device, { seq, prev, after, seen: place.seen }, said);
      const { chain, act, data, zone = null } = draft;
      const fate = { kid: place.device.kid, state: "waiting", answer: null };
      rows.push({ seq, text, disclosures: told.texts, chain, act, data, zone, signed: now, ...fate });
      before = text;
    }
    return rows;
  }

  // Whether these rows are on the disk now: not when another tab used the counter first. After any other failure it is
  // unknown what became of the write, and what is read back decides, or an act would be signed twice.
  async kept(newest, rows, done) {
    try {
      return await this.store.append(newest, rows, done);
    } catch (error) {
      const found = await this.store.find(rows[0].seq).catch(() => null);
      if (found?.text === rows[0].text) return true;
      await this.copies.drop(rows);
      throw new NotKept(error);
    }
  }

  // Sends what is in these states, in order, by `post(body)`; resolves to how many were recorded and refused. What the
  // network or the service refuses as a whole is thrown on, and everything stays.
  send(post, states = ["waiting"]) {
    return this.alone("send", async () => {
      const pending = await this.store.inStates(states);
      const done = { recorded: 0, refused: 0 };
      for (let i = 0; i < pending.length; i += AT_ONCE) {
        const group = pending.slice(i, i + AT_ONCE);
        const { answers } = await post(asSent(group));
        await requireOwn(group, answers);
        await this.store.settle(group.map((row, j) => settled(row, answers[j])));
        await this.copies.drop(group.filter((_, j) => answers[j].status !== "refused"));
        await this.copies.setApart(group.filter((_, j) => answers[j].status === "refused"));
        for (const each of answers) done[each.status === "refused" ? "refused" : "recorded"] += 1;
      }
      return done;
    });
  }

  // What was called recorded and is not in the ledger goes there once more, as the same bytes: whoever answered was not the
  // ledger, or it was restored. What stands here stands, whatever is answered.
  async sendLacking({ highest, gaps }, post) {
    const isGap = ({ seq }) => seq > highest || gaps.some(([first, last]) => first <= seq && seq <= last);
    const lacking = (await this.store.inStates(["registered"])).filter(isGap);
    for (let i = 0; i < lacking.length; i += AT_ONCE) {
      const group = lacking.slice(i, i + AT_ONCE);
      await requireOwn(group, (await post(asSent(group))).answers);
    }
  }

  async turn(seq, before, after) {
    const row = await this.store.find(seq);
    if (row?.state !== before) throw new Malformed(`Statement ${seq} is not ${before}.`);
    await this.store.settle([{ ...row, state: after }]);
  }

  setAside(seq) {
    return this.turn(seq, "refused", "set aside");
  }

  takeUp(seq) {
    return this.turn(seq, "set aside", "refused");
  }

  // The ledger shows a statement of this key beyond what this memory has: it was put back from an old copy. A number alone
  // is the word of whoever answers, and stops nobody.
  async requireNotBehind(text) {
    const { newest, device } = await this.store.place([]);
    const known = newest?.seq ?? 0;
    const shown = (await isOf(device, text)) ? claimsOf(text).seq : 0;
    if (shown > known) await this.stop({ code: "behind", highest: shown, newest: known });
  }

  async stop(why) {
    await this.store.stop(why);
    throw new Stopped(why);
  }

  // Whoever holds the lock may never give it back (a tab that was put to sleep): after a while it goes without. The
  // counter is compared all the same, and what is sent twice is recorded once.
  async alone(name, work) {
    if (!this.locks) return work();
    let isMine = false;
    const mine = () => {
      isMine = true;
      return work();
    };
    try {
      return await this.locks.request(`bailee-${name}`, { signal: AbortSignal.timeout(ALONE_MS) }, mine);
    } catch (error) {
      if (isMine) throw error;
      return work();
    }
  }
}

export const asSent = (rows) => ({ statements: rows.map((row) => ({ statement: row.text, disclosures: row.disclosures })) });

function settled(row, answer) {
  return { ...row, state: answer.status === "refused" ? "refused" : "registered", answer };
}

// An answer is believed only if the entry in it holds the very text that was signed.
export async function requireOwn(group, answers) {
  if (answers?.length !== group.length) throw new Broken("bad-answer");
  for (const [i, answer] of [...answers].entries()) {
    if (answer?.status !== "refused" && !(await isOwn(group[i], answer))) throw new Broken("bad-answer", { seq: group[i].seq });
  }
}

async function isOwn({ text, chain }, answer) {
  try {
    const entry = JSON.parse(answer.entry);
    const isSaid = entry.stmt === text && entry.n === answer.n && entry.chain === answer.chain && answer.chain === chain;
    return isSaid && (await leafHash(answer.entry)) === answer.leaf;
  } catch {
    return false;
  }
}
