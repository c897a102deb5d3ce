// What the first screen waits for, begun before the rest of the app runs: what this device's memory has, and
// the names of acts and codes.

import { Copies } from "./memory/copies.js";
import { Store } from "./memory/store.js";

export const vocabulary = fetch(new URL("vocabulary.json", import.meta.url)).then((answer) => answer.json());
let begun = opened();
for (const each of [vocabulary, begun]) each.catch(() => null); // whoever asks for it is told

async function opened() {
  const copies = await Copies.here();
  const store = new Store(() => copies.proveRoom());
  return { copies, store, kept: await store.atStart() };
}

// The memory, opened; a second time anew.
export function memory() {
  const found = begun ?? opened();
  begun = null;
  return found;
}
