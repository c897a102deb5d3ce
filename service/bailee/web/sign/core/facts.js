// Whether an act's facts have the members, codes and types that the service's registry of acts declares. What a text
// must look like is asked where it is typed; the service asks all of it again.

// Places at which `value` does not fit a shape (the part of JSON Schema that `vocabulary.js` uses).
export function faults(shape, value, place = "") {
  if (shape.anyOf) {
    const each = shape.anyOf.map((one) => faults(one, value, place));
    return each.find((found) => !found.length) ?? each.reduce((one, other) => (deeper(other, one) ? other : one));
  }
  if (shape.enum) return shape.enum.includes(value) ? [] : [place];
  switch (shape.type) {
    case "object":
      return isObject(value) ? inObject(shape, value, place) : [place];
    case "array":
      if (!Array.isArray(value)) return [place];
      return value.flatMap((each, i) => faults(shape.items, each, `${place}/${i}`));
    case "string":
    case "boolean":
      return typeof value === shape.type ? [] : [place];
    case "integer":
      return Number.isSafeInteger(value) ? [] : [place];
    case "null":
      return value === null ? [] : [place];
    default:
      return [];
  }
}

// Of several shapes the one that fits furthest tells where it stops fitting.
const deeper = (one, other) => Math.max(...one.map(length)) > Math.max(...other.map(length));
const length = (place) => place.split("/").length;
const isObject = (value) => typeof value === "object" && value !== null && !Array.isArray(value);

function inObject(shape, value, place) {
  const known = shape.properties ?? {};
  const missing = (shape.required ?? []).filter((name) => !(name in value)).map((name) => `${place}/${name}`);
  const inside = Object.entries(value).flatMap(([name, each]) => {
    if (Object.hasOwn(known, name)) return faults(known[name], each, `${place}/${name}`);
    const other = shape.additionalProperties;
    return typeof other === "object" ? faults(other, each, `${place}/${name}`) : [`${place}/${name}`];
  });
  return [...missing, ...inside];
}

// What is said, without what is not: nothing is signed as null, false or empty where the terminal leaves it out. What an
// act must have stays as it is: that there was nothing.
export function present(data, required = []) {
  const isSaid = (value) => value !== null && value !== undefined && value !== "" && (!Array.isArray(value) || value.length);
  return Object.fromEntries(Object.entries(data).filter(([name, value]) => required.includes(name) || isSaid(value)));
}

export class NotKnown extends Error {
  constructor(act, places) {
    super("not-known");
    Object.assign(this, { act, places });
  }
}

export function require(vocabulary, act, data) {
  const shape = vocabulary.acts[act];
  const found = shape ? faults(shape.data, data) : [""];
  if (found.length) throw new NotKnown(act, found);
}
