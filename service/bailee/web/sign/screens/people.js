// Keys and phones: the administrator lets a colleague's key in, or ends one; whoever has a new phone hands their role to
// its key. Five lines are compared by voice first.

import { at } from "../core/moments.js";
import { readRequest } from "../core/request.js";
import { el, keyLines, note } from "../parts/el.js";
import { ask, folded, picks } from "../parts/fields.js";
import { button, link } from "../parts/frame.js";
import { code, count, free, moment } from "../parts/kinds.js";
import { elements, signing } from "../parts/signing.js";

const spoken = ({ words, say }, { kid, person, role }) => `${person || `${kid.slice(0, 8)}…`}, ${say(role)}`;

// What to do with a lost, a new and a second phone; and for the administrator the keys, to end one.
export function phones(context) {
  const { words, phone } = context;
  const isAdministrator = phone.may("revoked");
  const others = (phone.brief?.people ?? []).filter((each) => each.kid !== phone.device.kid);
  const rows = others.map((each) => el("li", {}, el("a", { href: `#end/${each.kid}` }, el("span", {}, spoken(context, each)), el("span", { class: "number" }, `${each.kid.slice(0, 8)}…`))));
  return {
    title: words.phonesTitle,
    body: [
      ...words.phonesText.flatMap(([title, ...steps]) => [el("h2", {}, title), el("ol", { class: "read" }, ...steps.map((each) => el("li", {}, each)))]),
      isAdministrator ? el("h2", {}, words.endWhich) : null,
      isAdministrator ? el("ul", { class: "rows" }, ...rows) : null,
    ],
    bar: [phone.may("affirmed") ? link(words.affirm, "#affirm") : null, link(words.home, "#home")],
  };
}

export async function end(context, kid) {
  const { words, phone, go } = context;
  const whose = phone.brief?.people.find((each) => each.kid === kid);
  if (!whose || !phone.may("revoked")) return go("phones");
  const known = await phone.service.get(`/devices/${kid}`).then((answer) => answer.told.highest, () => null);
  const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
  const now = at(phone.now(), here);
  const fields = {
    reason: code(context, words.reason, "revoked", "reason"),
    since: moment(words, words.lostSince, now.slice(19), { isOptional: false }),
    last_good_seq: count(words, words.lastGood, { isOptional: false, hint: known === null ? words.lastGoodHint : words.lastGoodKnown(known) }),
    note: free(words, words.note),
  };
  const drafted = async ({ note: text, ...data }) => {
    await phone.see(`org/${phone.device.org}`);
    return { chain: `org/${phone.device.org}`, act: "revoked", data: { kid, ...data }, private: { note: text } };
  };
  const body = [el("p", {}, words.endText(spoken(context, whose))), keyLines(words.keyOf, kid), ...elements(fields)];
  return signing(context, { title: words.endWhich, fields, body, text: words.signRevoked, drafted, then: "signed", back: "phones" });
}

// The key on the new phone takes over; this one signs no more.
function handOver(context, asked) {
  const { words, phone } = context;
  const fields = { device: free(words, words.newDevice, { value: asked.device }) };
  const sign = async () => {
    const said = ask(fields);
    if (!said) return;
    await phone.see(`org/${phone.device.org}`);
    const { kid, jwk, proof } = asked;
    const data = { kid, jwk, proof, last_seq: (await phone.newest()) + 1 }; // this entry is the last
    const rows = await context.sign({ chain: `org/${phone.device.org}`, act: "rotated", data, private: { device: said.device } });
    if (rows) await phone.handedOver(kid, data.last_seq);
  };
  return {
    title: words.rotateTitle,
    fields,
    body: [
      el("p", {}, words.rotateText),
      keyLines(words.theirKey, asked.kid),
      ...elements(fields),
      note("warn", words.rotateWarn),
    ],
    bar: [button(words.signRotated, sign), link(words.home, "#home")],
  };
}

export async function letIn(context, rest) {
  const [text, isOwn] = rest.split("/");
  const { words, phone } = context;
  const { standing, device } = phone;
  const no = (sentence) => ({ title: words.letInTitle, body: [note("stop", sentence)], bar: [link(words.home, "#home")] });
  let asked;
  try {
    asked = await readRequest(text, device);
  } catch (error) {
    return no(error.message === "elsewhere" ? words.letInElsewhere : words.codeWrong);
  }
  const isNew = asked.kid !== phone.device.kid;
  if (isOwn && isNew) return handOver(context, asked);
  const mine = isNew ? link(words.itIsMine, `#ask/${text}/mine`) : null;
  if (!phone.may("enrolled")) {
    return { title: words.letInTitle, body: [el("p", {}, words.letInNotYou), mine], bar: [link(words.home, "#home")] };
  }
  const known = (phone.brief?.people ?? []).filter((each) => each.person);
  const second = new Map(known.map((each) => [each.kid, spoken(context, each)]));
  const fields = {
    role: code(context, words.role, "enrolled", "role", { but: standing.role === "root" ? [] : ["root"] }),
    identity_check: code(context, words.identity, "enrolled", "identity_check"),
    person: free(words, words.theirName, { value: asked.person }),
    device: free(words, words.theirDevice, { value: asked.device }),
    same_as: picks(words, words.sameAs, ["", ...second.keys()], (kid) => second.get(kid) ?? words.firstPhone, { value: "", isWide: true }),
  };
  const drafted = async ({ person, device: name, ...said }) => {
    const { kid, jwk, proof } = asked;
    await phone.see(`org/${phone.device.org}`);
    return { chain: `org/${device.org}`, act: "enrolled", data: { kid, jwk, proof, ...said }, private: { person, device: name } };
  };
  const { same_as: same, ...others } = fields;
  const body = [
    el("p", {}, words.letInText(asked.person, device.org)),
    keyLines(words.theirKey, asked.kid),
    ...elements(others),
    folded(words.secondPhone, same.element),
    mine,
  ];
  return signing(context, { title: words.letInTitle, fields, body, text: words.signEnrolled, drafted, then: "signed", back: "home" });
}
