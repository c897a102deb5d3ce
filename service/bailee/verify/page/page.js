"use strict";
const part = (name) => document.getElementById(`part-${name}`);

async function unpacked(name) {
  const held = part(name);
  const packed = Uint8Array.from(atob(held.textContent), (letter) => letter.charCodeAt(0));
  held.remove();
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(stream).arrayBuffer();
}

const waiting = new Map();
let worker;
let count = 0;

function tell(message, transfer = []) {
  count += 1;
  worker.postMessage({ id: count, ...message }, transfer);
  return new Promise((resolve, reject) => waiting.set(count, { resolve, reject }));
}

async function start() {
  const code = await unpacked("worker");
  worker = new Worker(URL.createObjectURL(new Blob([code], { type: "text/javascript" })));
  worker.onmessage = ({ data }) => {
    const { resolve, reject } = waiting.get(data.id);
    waiting.delete(data.id);
    if (data.error) reject(new Error(data.error));
    else resolve(data.answer);
  };
  worker.onerror = (event) => console.error(`worker: ${event.message} ${event.lineno}:${event.colno}`);
  const parts = {};
  for (const name of ["pyodide.asm.wasm", "python_stdlib.zip", "packages.zip"]) parts[name] = await unpacked(name);
  parts.lock = part("lock").textContent;
  await tell({ parts }, Object.values(parts).filter((each) => each instanceof ArrayBuffer));
}

const ready = start();
globalThis.bailee = { ready, judge: async (file, asked) => (await ready, tell({ file, asked })) };
