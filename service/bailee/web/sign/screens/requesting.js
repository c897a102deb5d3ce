// What the laboratory is asked for: of some samples of a visit, or of all of it.

import { dayAt } from "../core/moments.js";
import { grouped } from "../core/numbers.js";
import * as slips from "../core/slips.js";
import { askedBack } from "../parts/asked_back.js";
import { el } from "../parts/el.js";
import { several } from "../parts/fields.js";
import { alarm } from "../parts/frame.js";
import { code, day, free, tag } from "../parts/kinds.js";
import { elements, signing } from "../parts/signing.js";
import { found } from "./visit.js";

export async function requesting(context, form) {
  const { words, phone, say, go } = context;
  const about = await found(phone, form);
  if (!about) return go("home");
  const numbers = [...about.samples.keys()];
  const fields = {
    ...(numbers.length ? { samples: several(words, words.requestOf, numbers, grouped) } : {}),
    analysis: tag(words, say("analysis", "tag"), { hint: words.analysisHint }),
    turnaround: tag(words, say("turnaround", "tag"), { hint: words.turnaroundHint }),
    due: day(words, words.dueDay, { hint: words.wrongDay }),
    priority: code(context, words.priority, "requested", "priority", { isOptional: true }),
    purchase: tag(words, words.purchase),
    cost_center: tag(words, words.costCenter),
    bill_to: free(words, words.billTo),
    note: free(words, words.note),
  };
  const back = askedBack(words);
  const drafted = ({ samples, bill_to: payer, note: text, ...asked }) => {
    if (Object.values(asked).every((each) => each === null)) return void alarm(words.nothingRequested);
    if (!back.settled(slips.due(asked, dayAt(phone.now(), about.zone)))) return null;
    const data = { samples: samples?.length ? samples : null, ...asked };
    return { chain: `form/${form}`, act: "requested", data, private: { bill_to: payer, note: text }, zone: about.zone };
  };
  const body = [el("p", {}, words.requestText), ...elements(fields), back.element];
  return signing(context, { title: words.request, fields, body, text: words.signRequested, drafted, then: `visit/${form}` });
}
