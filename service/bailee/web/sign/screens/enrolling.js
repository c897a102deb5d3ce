// Asking to be enrolled: the request on the screen and as a file, and the key to be read aloud.

import { written } from "../core/request.js";
import { screenCode } from "../parts/codes.js";
import { el, keyLines } from "../parts/el.js";
import { button, link, say } from "../parts/frame.js";

const ASK_EVERY_MS = 5000;

export async function asked({ words, phone, go, isShown }) {
  const asking = await phone.request();
  const request = `${JSON.stringify(asking, null, 2)}\n`;
  const file = new File([request], `request-${phone.device.kid.slice(0, 8)}.json`, { type: "application/json" });
  const canShare = navigator.canShare?.({ files: [file] }) ?? false;
  const save = () => {
    const address = URL.createObjectURL(file);
    el("a", { href: address, download: file.name }).click();
    setTimeout(() => URL.revokeObjectURL(address), 60_000);
    say(words.askSaved);
  };
  const share = () => navigator.share({ files: [file], title: words.askedTitle }).catch(() => null);
  const look = async () => {
    if (!isShown()) return;
    const standing = await phone.askStanding().catch(() => null);
    if (!isShown()) return;
    if (standing) {
      phone.sync();
      await go("home");
    } else setTimeout(look, ASK_EVERY_MS);
  };
  setTimeout(look, 0);
  return {
    title: words.askedTitle,
    body: [
      el("p", {}, words.askedText),
      el("p", {}, words.askedFor(asking.person, asking.organization)),
      el("h2", {}, words.askedKey),
      keyLines(words.askedKey, phone.device.kid),
      el("p", { class: "soft" }, words.askWaiting),
      screenCode(written(`${location.origin}/sign/`, asking), words.codeImage),
    ],
    bar: [canShare ? button(words.askShare, share) : null, button(words.askSave, save, { second: canShare }), link(words.askOther, "#change")],
  };
}
