// Decimals, lengths and volumes, exactly: a decimal is {n, places}, n a BigInt. Rounded half up, and only where a
// person reads. A point or a comma is typed, a point is signed.

import { Malformed } from "./bytes.js";

// Exact by definition (international foot of 1959).
const FOOT_M = "0.3048";
const INCH_M = "0.0254";
const SURELY_MINUTES = 30;
const SURELY_SECONDS = 120;
const BY_HAND_S = 5;
const HALF_A_MINUTE_S = 30;
const NUMBER = "[0-9]{1,6}(?:[.,][0-9]{1,6})?";

export function decimal(text) {
  const typed = text.trim().replace(",", ".");
  if (!/^-?[0-9]{1,6}(\.[0-9]{1,6})?$/.test(typed)) throw new Malformed("number");
  const [whole, rest = ""] = typed.split(".");
  return { n: BigInt(whole + rest), places: rest.length };
}

// As it is signed: what was typed, with a point. Three digits after a comma may be thousands.
export function decimalText(text) {
  if (/,[0-9]{3}$/.test(text.trim())) throw new Malformed("number");
  decimal(text);
  return text.trim().replace(",", ".");
}

export function shown({ n, places }) {
  const digits = String(n < 0n ? -n : n).padStart(places + 1, "0");
  const whole = digits.slice(0, digits.length - places);
  const text = places ? `${whole}.${digits.slice(-places)}` : whole;
  return n < 0n ? `-${text}` : text;
}

export function plus(one, other) {
  const places = Math.max(one.places, other.places);
  return { n: widened(one, places) + widened(other, places), places };
}

export const times = (one, other) => ({ n: one.n * other.n, places: one.places + other.places });

const widened = ({ n, places }, to) => n * 10n ** BigInt(to - places);

// `divisor` is a whole number above zero; halves go away from zero.
export function rounded(value, places, divisor = 1n) {
  const up = value.n * 10n ** BigInt(Math.max(places - value.places, 0));
  const down = divisor * 10n ** BigInt(Math.max(value.places - places, 0));
  const size = up < 0n ? -up : up;
  const n = (2n * size + down) / (2n * down);
  return { n: up < 0n ? -n : n, places };
}

export function normalized({ n, places }) {
  let [value, left] = [n, places];
  while (left > 0 && value % 10n === 0n) [value, left] = [value / 10n, left - 1];
  return { n: value, places: left };
}

// Liters drawn, as a person reads them: the mean of the flows read, or the one there is; nothing without any.
export function volume(flows, seconds) {
  if (!flows.length) return null;
  const sum = flows.map(decimal).reduce(plus);
  const drawn = times(sum, { n: BigInt(seconds), places: 0 });
  return shown(rounded(drawn, 2, 60n * BigInt(flows.length)));
}

// Meters to the tenth of a millimeter, as text, of `3 ft`, `36 in`, `5 ft 6 in`, `5'6"`, `91 cm`, `0.91 m`.
export function meters(text) {
  const length = text.trim();
  const metric = length.match(new RegExp(`^(${NUMBER}) *(m|cm)$`));
  if (metric) {
    const factor = metric[2] === "cm" ? { n: 1n, places: 2 } : { n: 1n, places: 0 };
    return metersText(times(decimal(metric[1]), factor));
  }
  const feet = length.match(new RegExp(`^(${NUMBER}) *(?:ft|') *(?:(${NUMBER}) *(?:in|"))?$`));
  const inches = length.match(new RegExp(`^(${NUMBER}) *(?:in|")$`));
  if (!feet && !inches) throw new Malformed("length");
  const whole = times(decimal(feet?.[1] ?? "0"), decimal(FOOT_M));
  const odd = times(decimal(feet?.[2] ?? inches?.[1] ?? "0"), decimal(INCH_M));
  return metersText(plus(whole, odd));
}

// Of meters: in feet and inches where that is surely how they were typed, with quarters of an inch; else as they stand.
export function lengthText(text) {
  const quarters = Math.round((Number(text) / Number(INCH_M)) * 4);
  const [feet, inches] = [Math.floor(quarters / 48), (quarters % 48) / 4];
  const imperial = [feet && `${feet} ft`, inches && `${inches} in`].filter(Boolean).join(" ");
  const isTyped = imperial && meters(imperial) === metersText(decimal(text));
  return isTyped ? imperial : `${metersText(decimal(text))} m`;
}

const metersText = (value) => shown(normalized(rounded(value, 4)));

// Seconds of `5:00` or `300`. A number without a unit that may be minutes as well, or both without the colon, is asked for
// once more.
export function seconds(text) {
  const found = text.trim().match(/^(?:([0-9]{1,5})|([0-9]{1,3}):([0-5][0-9]))$/);
  if (!found) throw new Malformed("run");
  const [, bare, minutes, rest] = found;
  if ((bare > SURELY_MINUTES && bare < SURELY_SECONDS) || mayBeClock(Number(bare))) throw new Malformed("run");
  return bare ? Number(bare) : Number(minutes) * 60 + Number(rest);
}

// Whether the digits of so many seconds may be minutes and seconds: 149, but not 300 or 199.
function mayBeClock(number) {
  const off = Math.min(number % 60, 60 - (number % 60));
  return number >= SURELY_SECONDS && number % 100 < 60 && off > BY_HAND_S && off < HALF_A_MINUTE_S;
}
