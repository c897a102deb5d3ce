// Which policies a seal says that it was judged by.

import { digest } from "../core/bytes.js";
import { canonical } from "../core/json.js";

// Whether each of these seals names the policies that the ledger shows of the firm and the laboratory of its form. A
// laboratory that stated nothing may be left out. `forms` are as the ledger has them, null where it did not answer.
export async function namesShown({ service }, statements, forms) {
  const shown = new Map();
  for (const org of new Set(forms.flatMap((each) => (each ? [each.firm, each.lab] : [])))) {
    shown.set(org, await service.get(`/organizations/${org}`).then(({ told }) => told.stated, () => undefined));
  }
  const isOf = async (named, org, mayLack) => {
    const stated = shown.get(org);
    if (stated === undefined) return false;
    if (named === undefined && mayLack(stated)) return true;
    return stated === null || named === (await digest(canonical(stated)));
  };
  for (const [n, { data }] of statements.entries()) {
    if (!forms[n]) return false;
    const { firm, lab } = forms[n];
    if (!(await isOf(data.policy, firm, () => false))) return false;
    if (!(await isOf(data.lab_policy, lab, (stated) => lab === firm || !stated || Object.keys(stated).every((each) => each === "edition")))) return false;
  }
  return true;
}
