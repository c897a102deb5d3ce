// Keys from the codes of a key card, by camera or from a photo, where the browser can read them (`BarcodeDetector`). The
// card has the root key without its organization: the short name is printed beside it, and a person reads that.
const ROOT = /^urn:ietf:params:oauth:jwk-thumbprint:sha-256:([A-Za-z0-9_-]{43})$/;
const LOG = /^[^\s+=]+\+[0-9a-f]{8}\+[A-Za-z0-9+/]{43,}={0,2}$/;
const EVERY_MS = 150;
const CAMERA = {
  NotAllowedError: "The camera was not allowed: allow it for this page, choose a photo, or type the lines.",
  NotReadableError: "Another program uses the camera: close that, choose a photo, or type the lines.",
};
let root;

const told = (sentence) => (at("card-said").textContent = sentence);

function add(kind, key) {
  const lines = at(kind).value.split("\n").map((each) => each.trim()).filter(Boolean);
  if (!lines.includes(key)) at(kind).value = [...lines, key].join("\n");
}

// Of one code; whether it was one of a key card.
function taken(text) {
  const [, name] = text.match(ROOT) ?? [];
  if (name) {
    root = name;
    at("card-name").hidden = false;
    told("A root key was read. Write the short name that is printed beside it.");
    at("card-org").focus();
  } else if (LOG.test(text)) {
    add("log-keys", text);
    told(`The key of the log ${text.split("+")[0]} was read.`);
  } else {
    told("This code is no key of a key card.");
    return false;
  }
  return true;
}

at("card-add").addEventListener("click", () => {
  const org = at("card-org").value.trim().replace(/=$/, "");
  if (!/^[a-z0-9][a-z0-9-]{0,31}$/.test(org)) return told("Write the short name as it is printed: small letters, digits, hyphens.");
  add("roots", `${org}=${root}`);
  at("card-name").hidden = true;
  at("card-org").value = "";
  told(`The root key of ${org} was read. Go on with the next code, or check the file.`);
});

async function look(detector) {
  const video = Object.assign(document.createElement("video"), { playsInline: true, muted: true });
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" }, audio: false });
  } catch (error) {
    return told(CAMERA[error.name] ?? "There is no camera here: choose a photo, or type the lines.");
  }
  const close = Object.assign(document.createElement("button"), { type: "button", className: "second", textContent: "Close the camera" });
  const end = () => {
    for (const track of stream.getTracks()) track.stop();
    at("eye").replaceChildren();
  };
  close.addEventListener("click", end);
  at("eye").replaceChildren(video, close);
  video.srcObject = stream;
  await video.play();
  told("Looking for a code …");
  while (video.isConnected) {
    const codes = await detector.detect(video).catch(() => []);
    if (codes.some(({ rawValue }) => taken(rawValue))) return end();
    await new Promise((resolve) => setTimeout(resolve, EVERY_MS));
  }
}

async function offerCard() {
  const known = await globalThis.BarcodeDetector?.getSupportedFormats?.().catch(() => []);
  if (!known?.includes("qr_code")) return;
  const detector = new globalThis.BarcodeDetector({ formats: ["qr_code"] });
  at("card").hidden = false;
  at("card-camera").hidden = !navigator.mediaDevices?.getUserMedia;
  at("card-camera").addEventListener("click", () => look(detector));
  at("card-photo").addEventListener("change", async ({ target }) => {
    const [photo] = target.files;
    if (!photo) return;
    const codes = await createImageBitmap(photo).then((image) => detector.detect(image)).catch(() => []);
    if (!codes.length) told("No code was found in this picture: take it nearer, with more light.");
    for (const { rawValue } of codes) taken(rawValue);
    target.value = "";
  });
}
offerCard();
