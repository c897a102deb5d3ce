// What instruments show of the air, as it is signed: degrees Celsius, hectopascals.

import { Malformed } from "./bytes.js";
import { decimal, decimalText, rounded, shown, times } from "./measures.js";

const HECTOPASCALS_IN = { kpa: "10", inhg: "33.86389" };

// Degrees Celsius of `21.5`, `21,5 C` or `70 F`, the last to a tenth.
export function celsius(text) {
  const found = text.trim().match(/^(-?[0-9.,]+) *(?:°|deg(?:rees)?)? *([cf]?)$/i);
  if (!found) throw new Malformed("degrees");
  const number = decimalText(found[1]);
  if (found[2].toLowerCase() !== "f") return number;
  const fahrenheit = decimal(number);
  const n = (fahrenheit.n - 32n * 10n ** BigInt(fahrenheit.places)) * 5n;
  return shown(rounded({ n, places: fahrenheit.places }, 1, 9n));
}

// Hectopascals of `1013`, `1013 mbar`, `29.9 inHg` or `101.3 kPa`, the last two to a tenth.
export function hectopascals(text) {
  const found = text.trim().match(/^(-?[0-9.,]+)\s*(hpa|mbar|mb|kpa|in\.?\s*hg|)$/i);
  if (!found) throw new Malformed("pressure");
  const number = decimalText(found[1]);
  const each = HECTOPASCALS_IN[found[2].toLowerCase().replace(/[\s.]/g, "")];
  return each ? shown(rounded(times(decimal(number), decimal(each)), 1)) : number;
}
