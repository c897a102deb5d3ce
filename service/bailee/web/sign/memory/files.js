// The app's own files: its worker keeps them for a place without a network, another writes the journal.

const policy = globalThis.trustedTypes?.createPolicy("sign", { createScriptURL: own });
const ADDRESS = "/sign/worker.js";
const JOURNAL = new URL("./journal_worker.js", import.meta.url).pathname;

function own(address) {
  if (![ADDRESS, JOURNAL].includes(address)) throw new TypeError("no other worker");
  return address;
}

const trusted = (address) => policy?.createScriptURL(address) ?? address;

export const journalWorker = () => new Worker(trusted(JOURNAL));

// The registration of the worker, now or later: some browsers take long over it, and nothing waits for them.
export const register = () => navigator.serviceWorker.register(trusted(ADDRESS));

// Whether the worker that is at work has every file. Without an answer nobody knows, and it is not said.
export async function areKept() {
  const { active } = await navigator.serviceWorker.ready; // which never comes where there is no worker
  const { port1, port2 } = new MessageChannel();
  const answer = new Promise((resolve) => {
    port1.onmessage = ({ data }) => resolve(data === true);
  });
  active.postMessage("whole", [port2]);
  return answer;
}
