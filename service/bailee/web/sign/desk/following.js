// So many numbers of a laboratory from a first one on: its last digits are counted up, with the zeros before them.

export function following(first, many) {
  const found = first.trim().match(/^(.*?)([0-9]{1,12})$/);
  if (!found) throw new Error("first");
  const [, before, digits] = found;
  return Array.from({ length: many }, (_, n) => `${before}${String(Number(digits) + n).padStart(digits.length, "0")}`);
}
