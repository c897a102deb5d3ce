// Entries of a key that was lost, affirmed by their own person with the new phone. The ledger says which are in doubt;
// nothing is preset, for nobody affirms what they did not sign.

import { grouped } from "../core/numbers.js";
import { visits } from "../core/visits.js";
import { el, note, number as printed, numberAt } from "../parts/el.js";
import { several } from "../parts/fields.js";
import { alarm, button, link } from "../parts/frame.js";
import { label } from "../parts/kinds.js";
import { elements, signing } from "../parts/signing.js";

export function affirm(context, form) {
  return form ? ofForm(context, form) : which(context);
}

async function which({ words, phone, go }) {
  const known = visits(await phone.said(), phone.brief, phone.device.kid);
  const field = label(words, words.formNumber, "form", { hint: words.numberHint });
  const next = () => {
    const found = field.answer();
    if (found) go(`affirm/${found}`);
  };
  const rows = known.map((each) => el("li", {}, el("a", { href: `#affirm/${each.form}` }, numberAt(grouped(each.form), each.site))));
  return {
    title: words.affirm,
    body: [el("p", {}, words.affirmText), rows.length ? el("ul", { class: "rows" }, ...rows) : null, field.element],
    bar: [button(words.next, next), link(words.back, "#phones")],
  };
}

async function ofForm(context, form) {
  const { words, phone } = context;
  const told = await phone.kept(`/forms/${form}`);
  const findings = (told?.told.findings ?? []).filter((each) => each.severity !== "note"); // affirmed already
  const doubted = new Map(findings.flatMap(({ acts, sentence }) =>
    acts.filter((each) => each.act === "affirmed" && each.statements).map((each) => [each.statements, sentence])));
  const fields = { statements: several(words, words.affirmWhich, [...doubted.keys()], (each) => doubted.get(each), { isWide: true }) };
  const drafted = (data) => (data.statements.length ? { chain: `form/${form}`, act: "affirmed", data } : void alarm(words.choose));
  const head = [
    el("p", {}, printed(grouped(form))),
    told?.isNow ? null : note("warn", told ? words.asOf(context.when(told.at)) : words.notAsked),
  ];
  if (!doubted.size) {
    return { title: words.affirm, body: [...head, told && el("p", {}, words.nothingToAffirm)], bar: [link(words.back, "#affirm")] };
  }
  const body = [...head, el("p", {}, words.affirmText), ...elements(fields)];
  return signing(context, { title: words.affirm, fields, body, text: words.signAffirmed, drafted, then: "signed", back: "affirm" });
}
