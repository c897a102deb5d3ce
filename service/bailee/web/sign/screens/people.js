// The administrator lets a colleague's key in: its five lines are compared, then the role is signed.

import { lines } from "../core/fingerprint.js";
import { readRequest } from "../core/request.js";
import { el, note } from "../parts/el.js";
import { ask } from "../parts/fields.js";
import { button, link } from "../parts/frame.js";
import { code, free } from "../parts/kinds.js";

export async function letIn(context, text) {
  const { words, phone, go } = context;
  const { standing, device, vocabulary } = phone;
  const no = (sentence) => ({ title: words.letInTitle, body: [note("stop", sentence)], bar: [link(words.home, "#home")] });
  if (!vocabulary.acts.enrolled.may.includes(standing.role)) return no(words.letInNotYou);
  let asked;
  try {
    asked = await readRequest(text, device);
  } catch (error) {
    return no(error.message === "elsewhere" ? words.letInElsewhere : words.codeWrong);
  }
  const fields = {
    role: code(context, words.role, "enrolled", "role", { but: standing.role === "root" ? [] : ["root"] }),
    identity_check: code(context, words.identity, "enrolled", "identity_check"),
    person: free(words, words.theirName, { value: asked.person }),
    device: free(words, words.theirDevice, { value: asked.device }),
  };
  const sign = async () => {
    const said = ask(fields);
    if (!said) return;
    const { role, identity_check: check, person, device: name } = said;
    const { kid, jwk, proof } = asked;
    await phone.seeOrganization();
    const data = { kid, jwk, role, proof, identity_check: check };
    if (await context.sign({ chain: `org/${device.org}`, act: "enrolled", data, private: { person, device: name } })) await go("signed");
  };
  return {
    title: words.letInTitle,
    body: [
      el("p", {}, words.letInText(asked.person, device.org)),
      el("div", { class: "lines", tabindex: "0", role: "group", "aria-label": words.theirKey }, lines(asked.kid).join("\n")),
      ...Object.values(fields).map((each) => each.element),
    ],
    bar: [button(words.signEnrolled, sign)],
  };
}
