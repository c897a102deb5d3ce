// What of an entry may be corrected on a phone, and what it then says; names of facts as `bailee.domain.corrections` has
// them: `weather.sky` is one fact within another. Lists of things, pictures and couriers are corrected at a terminal.

import { digest } from "./bytes.js";

const inside = (shape) => shape.anyOf?.find((each) => each.type !== "null") ?? shape;
const isOne = (shape) => shape.enum || ["string", "boolean", "integer"].includes(shape.type) || shape.items?.enum;

// {name, shape, isOptional} of each fact of an act, by its shape in `vocabulary.js`.
export function factsOf(shape) {
  return Object.entries(shape.properties).filter(([name]) => name !== "edition").flatMap(([name, each]) => {
    const bare = inside(each);
    const isOptional = bare !== each || !shape.required.includes(name);
    if (isOne(bare)) return [{ name, shape: bare, isOptional }];
    if (bare.type !== "object" || !bare.properties || ["photo", "courier", "dock", "found"].includes(name)) return [];
    return factsOf(bare).map((one) => ({ ...one, name: `${name}.${one.name}` }));
  });
}

export const value = (data, name) => name.split(".").reduce((found, step) => found?.[step], data) ?? null;

export function withValue(data, name, found) {
  const [first, ...rest] = name.split(".");
  return { ...data, [first]: rest.length ? withValue(data[first] ?? {}, rest.join("."), found) : found };
}

// The facts of `corrected`: what is signed is the outermost fact, whole.
export function corrected(statement, data, name, found, reason) {
  const [field] = name.split(".");
  return { statement, field, old: data[field] ?? null, new: withValue(data, name, found)[field], reason };
}

// Why an entry could not say this at all: the codes of sentences.
export function contradiction(act, { kind, run_s: run, flow_before: before, flow_after: after, started, stopped }) {
  if (act !== "collected") return null;
  if (kind === "blank" && (run || before || after)) return "blank-with-air";
  return stopped && (Date.parse(stopped) - Date.parse(started)) / 1000 + 1 < run ? "run-longer-than-scans" : null;
}

// Rows with the corrections followed that the same key signed of them.
export async function inForce(rows) {
  const corrections = rows.filter((row) => row.act === "corrected").map((row) => row.data);
  if (!corrections.length) return rows;
  const found = rows.map(async (row) => {
    if (row.act === "corrected") return row;
    const id = await digest(row.text);
    const mine = corrections.filter((each) => each.statement === id);
    return mine.length ? { ...row, data: mine.reduce((data, each) => withValue(data, each.field, each.new), row.data) } : row;
  });
  return Promise.all(found);
}
