// A key as people read it to each other: five lines that check themselves, as `bailee key show` prints them.

import { grouped } from "./numbers.js";
import { unb64u } from "./bytes.js";

const ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
const CHECKS = `${ALPHABET}*~$=U`;

export function lines(kid) {
  const bits = Array.from(unb64u(kid), (each) => each.toString(2).padStart(8, "0")).join("").padEnd(260, "0");
  const text = bits.match(/.{5}/g).map((each) => ALPHABET[parseInt(each, 2)]).join("");
  return text.match(/.{1,12}/g).map((part, i) => `${i + 1} ${grouped(part)}  ${checkSymbol(`${i + 1}${part}`)}`);
}

function checkSymbol(characters) {
  let value = 0;
  for (const each of characters) value = (value * 32 + ALPHABET.indexOf(each)) % 37;
  return CHECKS[value];
}
