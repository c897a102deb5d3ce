// A sample collected again, in the place of an earlier one that is not analyzed.

import { COLLECTING } from "../core/visits.js";
import { refuse } from "./fields.js";
import { label } from "./kinds.js";

export const again = (words) => ({
  replaces: label(words, words.replaces, "sample", { isOptional: true, hint: words.replacesHint }),
  replaces_form: label(words, words.replacesForm, "form", { isOptional: true, hint: words.replacesFormHint }),
});

// What is signed of it; nothing once it was said why that cannot be. The form is named where it is another, and looked up
// where it was not typed and can be.
export async function collectedAgain({ words, phone }, fields, { sample, replaces, replaces_form: typed }, form) {
  const where = replaces && !typed ? await formOf(phone, replaces) : typed;
  const wrong = [
    [fields.replaces, replaces && replaces === sample ? words.replacesItself : typed && !replaces ? words.needed : where === "" ? words.replacesUnknown : ""],
  ];
  for (const [field, sentence] of wrong) field.fault(sentence);
  const isWrong = wrong.some(([, sentence]) => sentence);
  if (isWrong) refuse(fields.replaces);
  return isWrong ? null : { replaces, replaces_form: where === form ? null : where };
}

// Null where nobody can be asked, empty where it was collected on none.
async function formOf(phone, sample) {
  const own = (await phone.said()).find((row) => COLLECTING.includes(row.act) && row.data.sample === sample);
  if (own) return own.chain.slice("form/".length);
  return phone.service.get(`/samples/${sample}`).then(({ told }) => told.form ?? "", (error) => (error.status === 404 ? "" : null));
}
