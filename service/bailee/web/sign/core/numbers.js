// Numbers as printed on labels, with their check character (ISO/IEC 7064 MOD 37-2): read as
// `bailee.domain.numbers` reads them. Sentences are in the table of words.

const VALUES = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*";
const ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
const LENGTH = 12;
const LETTERS = { sample: "S", lot: "M", form: "F", envelope: "E", seal: "C" };

export class BadNumber extends Error {
  // `code` names the sentence, `facts` fills it in.
  constructor(code, facts = {}) {
    super(code);
    Object.assign(this, { code, facts });
  }
}

export function checkCharacter(body) {
  let total = 0;
  for (const each of body) total = ((total + VALUES.indexOf(each)) * 2) % 37;
  return VALUES[(38 - total) % 37];
}

export const grouped = (number) => number.replace(/(....)(?=.)/g, "$1 ");

export const kindOf = (number) => Object.keys(LETTERS).find((kind) => LETTERS[kind] === number[0]) ?? null;

// The stored form of what was scanned or typed: lower case, spaces, hyphens, or the address of a label.
export function read(text, kind = null) {
  const typed = text.trim().replace(/\/+$/, "").split("/").pop().replace(/[\s-]/g, "");
  const number = readAs(typed);
  const strange = [...typed].findIndex((each) => !/^[\x00-\x7f]$/.test(each) || !ALPHABET.includes(readAs(each)));
  if (strange >= 0) throw new BadNumber("strange", { position: strange + 1, character: [...typed][strange] });
  if (number.length !== LENGTH) throw new BadNumber("length", { length: number.length });
  const found = kindOf(number);
  if (!found || (kind && found !== kind)) throw new BadNumber("kind", { number: grouped(number), found, kind });
  if (checkCharacter(number.slice(0, -1)) !== number.at(-1)) {
    const swaps = validSwaps(number);
    throw new BadNumber(swaps.length === 1 ? "swapped" : "check", {
      number: grouped(number),
      perhaps: swaps.length === 1 ? grouped(swaps[0]) : null,
    });
  }
  return number;
}

// The number of one of our labels that was scanned where another is asked for; null for anything else, and for a seal.
export function labelNumber(text) {
  const printed = text.trim().replace(/\/+$/, "").split("/").pop().replace(/\s/g, "");
  const number = /^[A-Za-z0-9]{12}$/.test(printed) ? printed.toUpperCase() : "";
  const isNumber = number && [...number].every((each) => ALPHABET.includes(each)) && checkCharacter(number.slice(0, -1)) === number.at(-1);
  return isNumber && ![null, "seal"].includes(kindOf(number)) ? number : null;
}

const readAs = (typed) => typed.toUpperCase().replace(/[IL]/g, "1").replaceAll("O", "0");

// Swaps of two neighbors after the letter that would make the number right.
function validSwaps(number) {
  const found = [];
  for (let i = 1; i < LENGTH - 1; i += 1) {
    const swapped = number.slice(0, i) + number[i + 1] + number[i] + number.slice(i + 2);
    if (swapped !== number && checkCharacter(swapped.slice(0, -1)) === swapped.at(-1)) found.push(swapped);
  }
  return found;
}

// A new number; bodies whose check character is outside the alphabet are never issued.
export function issue(kind, random = () => crypto.getRandomValues(new Uint8Array(LENGTH - 2))) {
  for (;;) {
    const body = LETTERS[kind] + Array.from(random(), (each) => ALPHABET[each & 31]).join("");
    const check = checkCharacter(body);
    if (ALPHABET.includes(check)) return body + check;
  }
}
