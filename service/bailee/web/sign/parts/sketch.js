// The sketch of a visit: lines drawn with a finger, points where cassettes stood. It goes on from cassette to cassette.

import { el } from "./el.js";
import { button } from "./frame.js";

const [WIDTH, HEIGHT] = [960, 720];

// `done(bytes)` gets it as a PNG.
export async function sketch({ words, phone }, form, point, done) {
  const name = `sketch/${form}`;
  const drawn = (await phone.store.recall(name)) ?? { lines: [], points: [] };
  const canvas = el("canvas", { width: WIDTH, height: HEIGHT, role: "img", "aria-label": words.sketchOf(drawn.points.map((each) => each.name).join(", ")) });
  const pen = canvas.getContext("2d");
  let isPoint = false;
  let line = null;
  const redraw = () => {
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, WIDTH, HEIGHT);
    Object.assign(pen, { strokeStyle: "#152024", lineWidth: 5, lineCap: "round", lineJoin: "round", font: "bold 34px sans-serif" });
    for (const each of drawn.lines) {
      pen.beginPath();
      for (const [x, y] of each) pen.lineTo(x, y);
      pen.stroke();
    }
    pen.fillStyle = "#8a1c1c";
    for (const { x, y, name: label } of drawn.points) {
      pen.beginPath();
      pen.arc(x, y, 11, 0, 2 * Math.PI);
      pen.fill();
      pen.fillText(label, x + 18, y + 12);
    }
  };
  const at = (event) => {
    const box = canvas.getBoundingClientRect();
    return [Math.round(((event.clientX - box.left) / box.width) * WIDTH), Math.round(((event.clientY - box.top) / box.height) * HEIGHT)];
  };
  canvas.addEventListener("pointerdown", (event) => {
    const [x, y] = at(event);
    if (isPoint) {
      const label = point() || String(drawn.points.length + 1);
      drawn.points = [...drawn.points.filter((each) => each.name !== label), { x, y, name: label }];
    } else {
      line = [[x, y], [x, y]];
      drawn.lines.push(line);
      canvas.setPointerCapture(event.pointerId);
    }
    redraw();
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!line) return;
    line.push(at(event));
    redraw();
  });
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, () => (line = null));
  const mode = button(words.sketchPoint, () => {
    isPoint = !isPoint;
    mode.textContent = isPoint ? words.sketchLine : words.sketchPoint;
  }, { second: true });
  const undo = button(words.sketchUndo, () => {
    (isPoint ? drawn.points : drawn.lines).pop();
    redraw();
  }, { second: true });
  const keep = async () => {
    await phone.store.remember(name, drawn);
    const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/png"));
    await done(new Uint8Array(await blob.arrayBuffer()));
  };
  redraw();
  return el("div", { class: "sketch" }, canvas, mode, undo, button(words.sketchKeep, keep));
}
