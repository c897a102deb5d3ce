// The verifier's own Python, in a thread of its own. What it would load lies in the page; there is no network.
const given = new Map();

globalThis.fetch = async (address) => {
  const name = String(address).split("/").pop();
  if (!given.has(name)) throw new TypeError("There is no network here.");
  const type = name.endsWith(".wasm") ? "application/wasm" : "application/octet-stream";
  return new Response(given.get(name), { headers: { "content-type": type } });
};

const bytes = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));

async function fits(publicKey, signature, message) {
  try {
    const key = await crypto.subtle.importKey("raw", bytes(publicKey), { name: "Ed25519" }, false, ["verify"]);
    return (await crypto.subtle.verify({ name: "Ed25519" }, key, bytes(signature), bytes(message))) === true;
  } catch {
    return false;
  }
}

// RFC 8032 7.1, test 2: a browser that cannot tell the right signature from a wrong one judges nothing.
const PUBLIC = "PUAXw+hDiVqStwqnTRt+vJyYLM8uxJaMwM1V8Sr0Zgw=";
const MESSAGE = "cg==";
const SIGNATURE = "kqAJqfDUyrhyDoILX2QlQKKye1QWUD+Ps3YiI+vbadoIWsHkPhWZbkWPNhPQ8R2MOHsurrQwKu6wDSkWErsMAA==";

async function canVerify() {
  return (await fits(PUBLIC, SIGNATURE, MESSAGE)) && !(await fits(PUBLIC, SIGNATURE, "cw=="));
}

let python, judging;

async function start(parts) {
  for (const [name, part] of Object.entries(parts)) given.set(name, part);
  if (!(await canVerify())) throw new Error("no-ed25519");
  python = await loadPyodide({
    createPyodideModule: _createPyodideModule,
    indexURL: "page://inside/",
    packageBaseUrl: "page://inside/",
    lockFileContents: given.get("lock"),
    stdout: () => {},
    stderr: (said) => console.error(said),
  });
  python.FS.writeFile("/packages.zip", given.get("packages.zip"));
  given.clear();
  python.runPython(`
import sys, zipfile
zipfile.ZipFile("/packages.zip").extractall("/packages")
sys.path.insert(0, "/packages")
from bailee.verify.page import signatures
signatures.stand_in()
`);
  judging = python.pyimport("bailee.verify.page.judging");
}

async function judge(file, asked) {
  const brought = python.toPy(file);
  const said = JSON.stringify(asked);
  const count = { signatures: 0, runs: 0 };
  let supposing = true;
  for (;;) {
    const answer = JSON.parse(judging.judge.callKwargs(brought, said, { supposing }));
    count.runs += 1;
    if (!answer.ask) return { ...answer, count };
    count.signatures += answer.ask.length;
    const told = await Promise.all(answer.ask.map(async (triple) => [...triple, await fits(...triple)]));
    judging.learn(JSON.stringify(told));
    supposing = false;
  }
}

self.onmessage = async ({ data: { id, parts, file, asked } }) => {
  try {
    self.postMessage({ id, answer: parts ? ((await start(parts)), {}) : await judge(file, asked) });
  } catch (error) {
    self.postMessage({ id, error: String(error.message ?? error) });
  }
};
