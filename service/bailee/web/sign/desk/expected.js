// What a dock compares with, kept for an hour without a network: of each envelope that is expected, and no name or address.

import { onRecord } from "../parts/on_record.js";
import { words as desk } from "./words.js";

const COMPARED = ["samples", "seal", "containers", "received", "taken_in", "shipped"];
const MOST = 20; // envelopes, of two questions each
const PLACE = { title: desk.dockTitle, back: "dock", without: desk.dockNoNetwork };

// Under `kept/`, as everything that goes with a key.
export const nameOf = (envelope) => `kept/envelope/${envelope}`;

// {record, forms} or {screen}; without a network as it was last seen, and then with {since}.
export async function asExpected(context, envelope) {
  const { store } = context.phone;
  const found = await onRecord(context, envelope, PLACE);
  if (!found.screen) await store.remember(nameOf(envelope), { envelope, ...compared(found), since: context.phone.now() });
  return found.screen && !context.phone.isThere ? ((await store.recall(nameOf(envelope))) ?? found) : found;
}

const compared = ({ record, forms }) => ({
  record: Object.fromEntries(COMPARED.map((name) => [name, record[name] ?? null])),
  forms: forms.map(({ form, zone, samples }) => ({ form, zone, samples: samples.map(({ sample }) => ({ sample })) })),
});

// What is not expected any more goes.
export async function keepExpected(context, envelopes) {
  const { store } = context.phone;
  const gone = (await store.under(nameOf(""))).filter((each) => !envelopes.includes(each.envelope));
  for (const { envelope } of gone) await store.forget(nameOf(envelope));
  for (const each of envelopes.slice(0, MOST)) await asExpected(context, each);
}
