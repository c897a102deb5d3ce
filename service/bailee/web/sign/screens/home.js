// Home, and everything that was signed here.

import { clockText, dayAt } from "../core/moments.js";
import { grouped } from "../core/numbers.js";
import { lacksOutdoor, sitesIn, visits } from "../core/visits.js";
import { el, keyLines, note, numberAt } from "../parts/el.js";
import { button, link, uncover } from "../parts/frame.js";

const DAY_MS = 24 * 3600 * 1000;

export async function home({ words, phone, say: code, when, update, isWhole }) {
  const { standing, brief, device } = phone;
  const [own, runs] = await Promise.all([phone.said(), running(words, phone)]);
  const under = visits(own, brief, device.kid);
  const mayOpen = phone.may("opened");
  return {
    title: words.hello(standing.person || device.person),
    body: [
      el("p", { class: "soft" }, words.isRole(code(standing.role), device.org)),
      device.origin.startsWith("demo.") ? note("warn", phone.vocabulary.demo) : null,
      update ? note("good", words.newEdition) : null,
      update ? button(words.useEdition, update, { second: true }) : null,
      known(words, phone, when, isWhole),
      el("h2", {}, words.visits),
      under.length ? el("ul", { class: "rows" }, ...under.map((each) => visitLine(words, each, brief?.policy))) : el("p", { class: "soft" }, words.noVisits),
      runs,
      el("nav", { class: "ways", "aria-label": words.more }, ...[
        mayOpen ? link(words.planTitle, "#plan") : null,
        mayOpen ? link(words.kit, "#kit") : null,
        link(words.chase, "#chase"),
        phone.may("sealed") ? link(words.pack, "#pack") : null,
        phone.may("shipped") ? link(words.ship, "#ship") : null,
        phone.may("shipped") ? link(words.carryTitle, "#carry") : null,
        phone.may("sealed") ? link(words.reopen, "#reopen") : null,
        phone.may("accepted") ? link(words.dock, "#dock") : null,
        phone.may("stored") ? link(words.stores, "#stores") : null,
        phone.may("lot_received") ? link(words.lots, "#lots") : null,
        phone.may("calendar_set") ? link(words.hours, "#hours") : null,
        phone.may("policy_set") ? link(words.limits, "#limits") : null,
        link(words.phonesTitle, "#phones"),
      ].filter(Boolean)),
    ],
    bar: [mayOpen ? link(words.begin, "#begin", false) : null, phone.may("received") ? link(words.take, "#take") : null],
  };
}

// "Works without a network" is said of an app that is whole and of a brief that is kept; while nobody knows, nothing is.
function known(words, phone, when, isWhole) {
  if (!phone.brief) return note("warn", words.noBrief);
  if (isWhole === false) return note("warn", words.appNotWhole);
  const told = [isWhole ? words.worksOffline : "", words.briefOf(when(phone.brief.at))].filter(Boolean).join(" ");
  const isOld = phone.now() - phone.brief.at > DAY_MS;
  return isOld ? note("warn", `${told} ${words.oldBrief}`) : el("p", { class: "soft" }, told);
}

function visitLine(words, visit, policy) {
  const told = words.visitLine(visit.samples.size, !lacksOutdoor(visit, policy));
  return el("li", {}, el("a", { href: `#visit/${visit.form}` }, numberAt(grouped(visit.form), visit.site), el("span", {}, told)));
}

export async function running(words, phone, form = null) {
  const runs = (await phone.store.drafts()).filter((each) => each.started && (!form || each.form === form));
  if (!runs.length) return null;
  const rows = runs.map((each) => {
    const since = clockText(((each.stopped ?? phone.now()) - each.started) / 1000);
    const told = words[each.stopped ? "ranNotSigned" : "run"](grouped(each.sample));
    return el("li", {}, el("a", { href: `#run/${each.sample}` }, told, el("span", {}, since)));
  });
  return el("div", {}, el("h2", {}, words.runs), el("ul", { class: "rows" }, ...rows));
}

export async function signed({ words, phone, say: code, go, edition, unsigned }) {
  const rows = (await phone.store.all()).toReversed();
  const sites = sitesIn(rows);
  const refused = rows.filter((row) => row.state === "refused");
  const waiting = rows.some((row) => row.state === "waiting");
  return {
    title: words.signedHere,
    body: [
      waiting ? note("warn", words.leaveOpen) : null,
      rows.length ? el("ul", { class: "rows" }, ...rows.map((row) => rowOf(words, phone, code, go, row, sites))) : el("p", {}, words.signedNone),
      await typed(words, unsigned, go),
      el("h2", {}, words.keyOf),
      keyLines(words.keyOf, phone.device.kid),
      el("h2", {}, words.edition),
      el("p", {}, el("span", { class: "number" }, edition)),
      el("p", { class: "soft" }, words.editionText),
    ],
    bar: [
      waiting || refused.length ? button(words.sendAgain, async () => {
        await phone.sync(["waiting", "refused"]);
        await go("signed");
      }) : null,
      link(words.home, "#home"),
    ],
  };
}

// What was typed on screens and not signed may hold a client's address: it goes when somebody says so.
async function typed(words, unsigned, go) {
  const many = (await unsigned.all()).length;
  if (!many) return null;
  const drop = async () => {
    await unsigned.dropAll();
    await go("signed");
  };
  const sure = el("div", { hidden: true }, el("p", {}, words.typedDeleteAsk), button(words.typedDelete, drop, { second: true }));
  return el("div", {}, el("h2", {}, words.typedTitle), el("p", {}, words.typedMany(many)),
    button(words.typedDeleteAll, () => uncover(sure), { second: true }), sure);
}

function rowOf(words, phone, code, go, row, sites) {
  const [kind, about] = row.chain.split("/");
  const what = kind === "org" ? about : grouped(row.data.sample ?? about);
  const problem = row.answer?.problem?.detail;
  const again = async (turn) => {
    await turn(row.seq);
    await go("signed");
  };
  const sure = el("div", { hidden: true }, el("p", {}, words.setAsideAsk(row.seq)),
    button(words.setAside, () => again((seq) => phone.outbox.setAside(seq)), { second: true }));
  return el("li", {},
    el("strong", {}, `${code(row.act)}, ${words.states[row.state]}`),
    el("div", {}, el("span", { class: "number" }, what), el("span", { class: "site" }, sites.get(about) ?? "")),
    el("div", { class: "soft" }, `${words.statement(row.seq)} · ${dayAt(row.signed, "UTC")}`),
    row.answer?.note ? el("p", {}, row.answer.note) : null,
    row.answer?.gap ? el("p", { class: "soft" }, words.gap(row.answer.gap)) : null,
    problem ? note("stop", problem) : null,
    row.state === "refused" ? button(words.setAside, () => uncover(sure), { second: true }) : null,
    row.state === "refused" ? sure : null,
    row.state === "set aside" ? button(words.takeUp, () => again((seq) => phone.outbox.takeUp(seq)), { second: true }) : null,
  );
}
