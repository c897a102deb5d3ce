// A picture that an entry names by its digest: photographed, chosen, or drawn as the sketch of points. It stays on this
// phone, byte for byte, until it is handed over as a file; nothing uploads it.

import { b64u, sha256 } from "../core/bytes.js";
import { el } from "./el.js";
import { tell } from "./fields.js";
import { alarm, button } from "./frame.js";
import { sketch } from "./sketch.js";

const KIND = /^image\/[a-z0-9.+-]{1,40}$/;
const BY_NAME = { jpg: "image/jpeg", jpeg: "image/jpeg", png: "image/png", webp: "image/webp", heic: "image/heic" };

// What binds a picture, as the terminal says it; an empty file or one that is no picture is none.
export async function bound(bytes, type, name = "") {
  const kind = KIND.test(type) ? type : BY_NAME[name.split(".").pop().toLowerCase()];
  if (!kind || !bytes.length) throw new Error("picture");
  return { "sha-256": b64u(await sha256(bytes)), size: bytes.length, type: kind };
}

// `form` is whose sketch is drawn, `point()` the point that a tap on it marks.
export function picture({ words, phone }, label, form, point) {
  let found = null;
  const input = el("input", { type: "file", accept: "image/*", capture: "environment", class: "aside", tabindex: "-1", "aria-hidden": "true" });
  const told = el("p", { role: "status" });
  const place = el("div", {});
  const named = (made) => {
    found = made;
    told.textContent = words.pictureKept(Math.ceil(made.size / 1024), made["sha-256"].slice(0, 8));
  };
  const take = async (bytes, type, name) => {
    try {
      const made = await bound(bytes, type, name);
      await phone.keepPicture(made, bytes, form);
      named(made);
      tell(element);
    } catch (error) {
      alarm(error.message === "picture" ? words.noPicture : words.pictureNotKept);
    }
  };
  input.addEventListener("change", async () => {
    const [file] = input.files;
    if (file) await take(new Uint8Array(await file.arrayBuffer()), file.type, file.name);
  });
  const draw = async () => place.replaceChildren(await sketch({ words, phone }, form, point, (bytes) => {
    place.replaceChildren();
    return take(bytes, "image/png");
  }));
  const element = el("fieldset", { class: "picks wide" }, el("legend", {}, label, el("span", { class: "optional" }, ` (${words.optional})`)),
    el("p", { class: "hint" }, words.pictureHint), input,
    button(words.photograph, () => input.click(), { second: true }), button(words.drawSketch, draw, { second: true }), place, told);
  const put = async (made) => made && (await phone.isPicture(made)) && named(made);
  return { element, focus: () => element.querySelector("button").focus(), answer: () => found, kept: () => found, put };
}
