// The camera as a reader of labels and codes, where the browser can read them (`BarcodeDetector`); elsewhere there is
// the phone's own camera app, a scanner that types, and the hand.

import { el } from "./el.js";
import { tell } from "./fields.js";
import { alarm, button, say } from "./frame.js";

const EVERY_MS = 120;
const FORMATS = ["qr_code", "code_128"];

export const canRead = async () => {
  const known = await globalThis.BarcodeDetector?.getSupportedFormats?.().catch(() => []);
  return known?.includes("qr_code") ?? false;
};

export function scanner(words, found) {
  const element = el("div", {});
  canRead().then((can) => {
    if (can && navigator.mediaDevices?.getUserMedia) element.append(button(words.scan, () => look(words, element, found), { second: true }));
  });
  return { element };
}

// Into the field of a sample: by the camera, or by a scanner that types; `heard` is told that it was no hand.
export function intoField(words, field, context, heard) {
  const scanned = (text) => {
    field.input.value = text;
    heard();
    tell(field.input);
  };
  context.typed(scanned);
  return scanner(words, (text) => {
    scanned(text);
    say(words.number);
  });
}

async function look(words, element, found) {
  const video = el("video", { playsinline: true, muted: true });
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" }, audio: false });
  } catch (error) {
    const said = { NotAllowedError: words.cameraDenied, NotReadableError: words.cameraBusy };
    alarm(said[error.name] ?? words.cameraNone);
    return;
  }
  const eye = el("div", { class: "eye" }, video);
  const offered = [...element.children];
  const end = () => {
    for (const track of stream.getTracks()) track.stop();
    element.replaceChildren(...offered);
  };
  element.replaceChildren(eye, button(words.back, end, { second: true }));
  video.srcObject = stream;
  await video.play();
  say(words.scanning);
  const detector = new globalThis.BarcodeDetector({ formats: FORMATS });
  while (element.isConnected && eye.isConnected) {
    const codes = await detector.detect(video).catch(() => []);
    if (codes.length) {
      eye.classList.add("good");
      navigator.vibrate?.(60);
      end();
      found(codes[0].rawValue);
      return;
    }
    await new Promise((resolve) => setTimeout(resolve, EVERY_MS));
  }
  for (const track of stream.getTracks()) track.stop();
}
