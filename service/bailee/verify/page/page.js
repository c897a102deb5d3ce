"use strict";
// What a person sees. The judging is in the worker, in Python; nothing here weighs anything.
const at = (id) => document.getElementById(id);

async function unpacked(name) {
  const held = at(`part-${name}`);
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
  worker.onerror = () => {
    for (const { reject } of waiting.values()) reject(new Error("The worker of this page did not start."));
    waiting.clear();
  };
  const parts = { lock: at("part-lock").textContent };
  for (const name of ["pyodide.asm.wasm", "python_stdlib.zip", "packages.zip"]) parts[name] = await unpacked(name);
  await tell({ parts }, Object.values(parts).filter((each) => each instanceof ArrayBuffer));
}

const ready = start();
ready.catch(() => {}); // said when somebody asks
globalThis.bailee = { ready, judge: async (file, asked) => (await ready, tell({ file, asked })) };

// What the sender put in: shown as claims, and used only when the reader says that they were compared.
const claims = JSON.parse(at("claims").textContent);

function show(kind, texts) {
  texts.forEach((text, place) => {
    const row = document.createElement("div");
    row.className = "claim";
    const box = Object.assign(document.createElement("input"), { type: "checkbox", id: `${kind}-${place}`, value: text });
    const label = Object.assign(document.createElement("label"), { htmlFor: box.id });
    const says = Object.assign(document.createElement("strong"), { textContent: "Filled in by the maker of this page: compare with your letter." });
    label.append(says, Object.assign(document.createElement("code"), { textContent: text }), " I have compared it, and it is the same.");
    row.append(box, label);
    at(`claimed-${kind}`).append(row);
  });
}
show("roots", claims.roots);
show("log-keys", claims.log_keys);

function brought(kind) {
  const compared = [...document.querySelectorAll(`#claimed-${kind} input:checked`)].map((box) => box.value);
  const typed = at(kind).value.trim(); // one key or several: the verifier tells them apart
  return [...new Set([...compared, ...(typed ? [typed] : [])])];
}

const now = () => `${new Date().toISOString().slice(0, 19)}+00:00`;

function sorry(sentence) {
  at("sorry").textContent = sentence;
  at("sorry").hidden = false;
}

const REASONS = {
  "no-ed25519": "This browser cannot check Ed25519 signatures, so nothing was judged. Use a newer browser, or `bailee verify`.",
};

let chosen;
let last;

at("ask").addEventListener("submit", async (event) => {
  event.preventDefault();
  at("sorry").hidden = true;
  at("keep").hidden = true;
  at("answer").replaceChildren();
  const file = chosen ?? at("file").files[0];
  const asked = { roots: brought("roots"), log_keys: brought("log-keys"), policy: at("policy").value.trim(), at: at("at").value.trim() || now() };
  if (!file) return sorry("Choose the auditor's file first.");
  if (file.size > 64 * 1024 * 1024) return sorry("An auditor's file has at most 64 MiB: this is another file.");
  if (!asked.roots.length) return sorry("Bring the root key of at least one organization, from a form or letter of its own.");
  if (!asked.log_keys.length && !asked.policy) return sorry("Bring the public key of the log, from outside the file.");
  at("go").disabled = true;
  at("working").className = "busy";
  try {
    at("doing").textContent = "Getting ready …";
    await ready;
    at("doing").textContent = "Checking …";
    const answer = await globalThis.bailee.judge(new Uint8Array(await file.arrayBuffer()), asked);
    if (answer.refused) return sorry(`Nothing was checked. ${answer.refused.sentence}`);
    last = answer;
    at("answer").innerHTML = answer.html;
    at("keep").hidden = false;
    at("answer").querySelector("h2").focus({ preventScroll: true });
    at("answer").scrollIntoView({ block: "start" });
  } catch (error) {
    sorry(REASONS[error.message] ?? `Nothing was judged: this browser stopped the page (${error.message}). Open it again, or use \`bailee verify\`.`);
  } finally {
    at("go").disabled = false;
    at("working").className = "";
    at("doing").textContent = "";
  }
});

at("file").addEventListener("change", () => { chosen = undefined; });
for (const name of ["dragover", "dragleave", "drop"])
  document.addEventListener(name, (event) => {
    event.preventDefault();
    at("drop").classList.toggle("over", name === "dragover");
    if (name !== "drop" || !event.dataTransfer.files.length) return;
    chosen = event.dataTransfer.files[0];
    try { at("file").files = event.dataTransfer.files; } catch { /* the name is then not shown */ }
  });

// On paper nothing can be unfolded.
for (const [event, open] of [["beforeprint", true], ["afterprint", false]])
  globalThis.addEventListener(event, () => { for (const each of document.querySelectorAll("#answer details")) each.open = open; });

for (const button of document.querySelectorAll("[data-save]"))
  button.addEventListener("click", () => {
    const plain = button.dataset.save === "text";
    const text = plain ? last.text : `${JSON.stringify(last.report, null, 1)}\n`;
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([text], { type: plain ? "text/plain" : "application/json" }));
    link.download = `form-${last.report.form}.${plain ? "txt" : "json"}`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
  });
