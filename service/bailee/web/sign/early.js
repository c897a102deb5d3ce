// What the first screen waits for, begun before the rest of the app runs: what this device's memory has.

import { Copies } from "./memory/copies.js";
import { Store } from "./memory/store.js";

let begun = opened();
begun.catch(() => null); // whoever asks for it is told

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
