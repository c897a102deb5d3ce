// An envelope that is opened again before it goes, and one that a laboratory takes in unopened: what was read on its seal,
// said on every form inside.

import { present } from "../core/facts.js";
import { at, zoneHere } from "../core/moments.js";
import { grouped } from "../core/numbers.js";
import { el, number as printed } from "../parts/el.js";
import { several } from "../parts/fields.js";
import { alarm } from "../parts/frame.js";
import { code, codesOf, count, free } from "../parts/kinds.js";
import { onRecord } from "../parts/on_record.js";
import { elements, signing } from "../parts/signing.js";
import { whichEnvelope } from "./envelope_number.js";
import { asRead } from "./seals.js";
import { words as desk } from "./words.js";

const UNREAD = ["missing", "not_looked_at"];

// On each form the same: what a desk or a dock says of a whole envelope.
const onEach = (forms, act, data, secret) =>
  forms.map((form) => ({ chain: `form/${form.form}`, act, data, private: secret, zone: form.zone }));

export async function reopen(context, envelope) {
  const { words, phone } = context;
  const [title, screen] = [desk.reopenTitle, "reopen"];
  if (!envelope) return whichEnvelope(context, { title, text: desk.shipText, screen });
  const found = await onRecord(context, envelope, { title, back: screen, without: desk.needsNetwork });
  if (found.screen) return found.screen;
  const fields = {
    seal: asRead(words, desk.sealOpened),
    reason: code(context, words.reason, "unsealed", "reason"),
    note: free(words, words.note),
  };
  const drafted = ({ seal, reason, note }) =>
    onEach(found.forms, "unsealed", { envelope, seal: seal.toUpperCase(), reason, at: at(phone.now(), zoneHere()) }, { note });
  const body = [el("p", {}, printed(grouped(envelope))), el("p", {}, desk.reopenText), ...elements(fields)];
  return signing(context, { title, fields, body, text: desk.signUnsealed, drafted, then: `pack/${envelope}`, back: "home" });
}

export async function takeIn(context, envelope) {
  const { words, phone, say } = context;
  const [title, screen] = [desk.takeInTitle, "take-in"];
  if (!envelope) return whichEnvelope(context, { title, text: desk.takeInText, screen });
  const found = await onRecord(context, envelope, { title, back: screen, without: desk.needsNetwork });
  if (found.screen) return found.screen;
  const fields = {
    package: several(words, desk.package, codesOf(phone.vocabulary, "taken_in", "package"), (each) => say(each)),
    seal: asRead(words, desk.sealRead, { isOptional: true, hint: desk.unreadHint }),
    seal_state: code(context, desk.sealState, "taken_in", "seal_state"),
    containers: count(words, desk.containers),
    where: code(context, words.where, "taken_in", "where", { value: "laboratory" }),
    secured: code(context, words.how, "taken_in", "secured"),
    place: free(words, desk.place),
  };
  const drafted = ({ place, seal, ...said }) => {
    if (!said.package.length) return void alarm(`${desk.package}: ${words.choose}`);
    if (!seal !== UNREAD.includes(said.seal_state)) return void alarm(desk.sealAndState);
    const data = present({ envelope, ...said, seal: seal?.toUpperCase() ?? null, at: at(phone.now(), zoneHere()) }, ["seal"]);
    return onEach(found.forms, "taken_in", data, { place });
  };
  const body = [el("p", {}, printed(grouped(envelope))), el("p", {}, desk.takeInText), ...elements(fields)];
  return signing(context, { title, fields, body, text: desk.signTakenIn, drafted, then: "dock", back: "dock" });
}
