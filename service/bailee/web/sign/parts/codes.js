// A code on the screen, for another phone's camera.

import { symbol } from "../core/qr.js";
import { el } from "./el.js";

const QUIET = 4; // Modules around it (ISO/IEC 18004 6.3.8).

// Nothing where the text is longer than a symbol holds.
export function screenCode(text, title) {
  const rows = symbol(text);
  return rows && el("div", { class: "screen-code" }, svg(rows, title));
}

function svg(rows, title) {
  const make = (tag, attributes) => {
    const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
    for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
    return made;
  };
  const size = rows.length + 2 * QUIET;
  const modules = rows.flatMap((row, y) => row.map((isDark, x) => (isDark ? `M${x + QUIET} ${y + QUIET}h1v1h-1z` : "")));
  const image = make("svg", { viewBox: `0 0 ${size} ${size}`, role: "img", "aria-label": title, "shape-rendering": "crispEdges" });
  image.append(make("path", { d: modules.join(""), fill: "#000" }));
  return image;
}
