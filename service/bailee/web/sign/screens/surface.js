// One sample of a surface: by which medium, of what and where, how much of it. No pump runs, and no air is drawn.

import { at } from "../core/moments.js";
import * as slips from "../core/slips.js";
import { lotOf } from "../core/visits.js";
import { again, collectedAgain } from "../parts/again.js";
import { percent } from "../parts/air.js";
import { askedBack } from "../parts/asked_back.js";
import { el } from "../parts/el.js";
import { ask, folded, yesNo } from "../parts/fields.js";
import { button, link } from "../parts/frame.js";
import { code, decimal, free, label, tag } from "../parts/kinds.js";
import { picture } from "../parts/picture.js";
import { intoField } from "../parts/scanner.js";
import { found } from "./visit.js";

const ACT = "surface_collected";

export async function surface(context, form) {
  const { words, phone, go } = context;
  const about = await found(phone, form);
  if (!about) return go("home");
  let entered = "typed";
  const sample = label(words, words.number, "sample", { hint: words.numberHint });
  sample.input.addEventListener("input", () => (entered = "typed"));
  const choice = (title, path, options = {}) => code(context, title, ACT, path, options);
  const wetted = choice(words.wetted, "wetted", { isOptional: true });
  wetted.element.hidden = true;
  const fields = {
    sample,
    medium: choice(words.medium, "medium", { changed: (medium) => (wetted.element.hidden = medium !== "swab") }),
    wetted,
    room: choice(words.room, "room"),
    point: tag(words, words.point),
    place: free(words, words.place),
    area: choice(words.area, "area", { isOptional: true }),
    material: choice(words.material, "material"),
    surface: choice(words.surface, "surface", { isOptional: true }),
    area_cm2: decimal(words, words.areaLifted),
    mass_g: decimal(words, words.mass),
    quantified: yesNo(words, words.quantified, { isOptional: true }),
    moisture_pct: percent(words, words.moisture),
    culture: yesNo(words, words.culture, { isOptional: true }),
    photo: picture(context, words.picture, form, () => fields.point.input.value.trim()),
    ...again(words),
    note: free(words, words.note),
  };
  const back = askedBack(words);
  const sign = async () => {
    const said = ask(fields);
    if (!said) return;
    const lot = lotOf(phone.brief, said.sample);
    const found = [...slips.again(said.sample, await phone.said()), ...slips.visitClosed(about), ...slips.lotOfAnotherKind(said.sample, lot?.nominal_flow, true)];
    if (!back.settled(found)) return;
    const replaced = await collectedAgain(context, fields, said, form);
    if (!replaced) return;
    const { place, note: text, ...facts } = { ...said, ...replaced };
    const data = { ...facts, at: at(phone.now(), about.zone), lot: lot?.lot ?? null, entered };
    if (said.medium !== "swab") data.wetted = null;
    for (const name of ["quantified", "culture"]) data[name] ||= null;
    const draft = { chain: `form/${form}`, act: ACT, data, private: { place, note: text }, zone: about.zone };
    if (await context.sign(draft)) await go(`visit/${form}`);
  };
  const camera = intoField(words, sample, context, () => (entered = "scan"));
  const element = (name) => fields[name].element;
  const first = ["medium", "wetted", "room", "point", "place", "area", "material", "surface", "area_cm2", "mass_g", "quantified"];
  const care = [...phone.vocabulary.surface, phone.vocabulary.cautions_end];
  return {
    title: words.takeSurface,
    fields: { ...fields, entered: { kept: () => entered, put: (how) => (entered = how) } },
    body: [el("ul", {}, ...care.map((each) => el("li", {}, each))), camera.element, element("sample"), ...first.map(element),
      folded(words.more, ...["moisture_pct", "culture", "photo", "replaces", "replaces_form", "note"].map(element)), back.element],
    bar: [button(words.signSurface, sign), link(words.back, `#visit/${form}`)],
  };
}
