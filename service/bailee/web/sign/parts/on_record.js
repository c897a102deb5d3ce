// An envelope and its forms as the ledger has them, or a screen that says why they cannot be had.

import { grouped } from "../core/numbers.js";
import { Problem, Unreachable } from "../core/service.js";
import { el, note, number as printed } from "./el.js";
import { link } from "./frame.js";

// {record, forms} or {screen}. What is on record is seen before something is said there.
export async function onRecord({ words, phone }, envelope, { title, back, without }) {
  try {
    const record = (await phone.service.get(`/envelopes/${envelope}`)).told;
    const forms = await Promise.all(record.forms.map(async (each) => (await phone.service.get(`/forms/${each}`)).told));
    for (const each of forms) await phone.store.told(`form/${each.form}`, each.length, each.head);
    return { record, forms };
  } catch (error) {
    if (!(error instanceof Unreachable || error instanceof Problem)) throw error;
    return { screen: refused({ words }, envelope, { title, back, why: error instanceof Problem ? error.message : without }) };
  }
}

export const refused = ({ words }, envelope, { title, back, why }) =>
  ({ title, body: [el("p", {}, printed(grouped(envelope))), note("stop", why)], bar: [link(words.back, `#${back}`)] });
