// What the dock found that is not as it was sealed: at the first opening by the seal of the journey and its list, at a
// later one by what the dock closed it with itself. As `bailee receive` says it; it judges nothing.

import { grouped } from "../core/numbers.js";

const SOUND = ["intact", "sound", "not_looked_at"];
const list = (samples) => samples.map(grouped).join(", ");

// {code, facts} of each. `told` is the envelope on record, `dock` what was read, `conditions` by sample.
export function differences(told, dock, conditions, say) {
  const [found, before] = [[...conditions.keys()], told.received];
  const seal = (before ? before.dock.closed_again?.seal : told.seal) ?? null;
  const expected = before ? [] : told.samples;
  const read = found.length + dock.extra.length;
  const said = [];
  const add = (code, facts = {}) => said.push({ code, facts });
  if (!before && !told.taken_in && !told.shipped) add("not-shipped");
  if (!dock.seal && seal) add("no-seal", { seal });
  if (dock.seal && (seal || !before) && dock.seal !== seal) add("other-seal", { read: dock.seal, seal: seal ?? "none" });
  if (!["intact", "missing"].includes(dock.seal_state)) add("seal-state", { state: say(dock.seal_state) });
  if (!before && ![dock.containers, told.containers].some((each) => each === null || each === undefined) && dock.containers !== told.containers) {
    add("containers", { counted: dock.containers, sealed: told.containers });
  }
  if (!before && dock.total !== told.samples.length) add("total", { counted: dock.total, sealed: told.samples.length });
  if (dock.total !== read) add("scanned", { counted: dock.total, scanned: read });
  const missing = expected.filter((each) => !found.includes(each) && !dock.extra.includes(each));
  if (missing.length) add("missing", { samples: list(missing) });
  const unexpected = found.filter((each) => !told.samples.includes(each));
  if (unexpected.length) add("unexpected", { samples: list(unexpected) });
  if (dock.extra.length) add("extra", { samples: dock.extra.join(", ") });
  if (!dock.record_enclosed) add("no-record");
  for (const [what, codes] of [["package", dock.package], ...[...conditions].map(([sample, codes]) => [grouped(sample), codes])]) {
    const damaged = codes.filter((each) => !SOUND.includes(each));
    if (damaged.length) add("damaged", { what, how: damaged.map((each) => say(each)).join(", ") });
  }
  return said;
}
