// The pictures that entries name: each is saved or shared as the very file, and deleted only when that is confirmed.

import { grouped } from "../core/numbers.js";
import { el, note } from "../parts/el.js";
import { button, link, say, uncover } from "../parts/frame.js";

export async function pictures(context, form) {
  const { words, phone, go } = context;
  const kept = (await phone.pictures()).filter((each) => each.form === form);
  const rows = phone.said().then((said) => Promise.all(kept.map((each) => row(context, each, said))));
  return {
    title: words.pictures,
    body: [
      el("p", {}, words.picturesText),
      kept.length ? el("ul", { class: "rows" }, ...(await rows)) : el("p", {}, words.noPictures),
    ],
    bar: [link(words.back, `#visit/${form}`), kept.length ? null : button(words.home, () => go("home"), { second: true })],
  };
}

async function row({ words, phone, go }, each, said) {
  const signed = said.find((one) => one.data.photo?.["sha-256"] === each.digest);
  const about = signed ? grouped(signed.data.sample) : words.pictureUnsigned;
  const bytes = await phone.pictureBytes(each);
  if (!bytes) return el("li", {}, about, note("stop", words.pictureGone));
  const ending = each.type.split("/")[1].replace("jpeg", "jpg");
  const file = new File([bytes], `${signed?.data.sample ?? each.form}-${each.digest.slice(0, 8)}.${ending}`, { type: each.type });
  const address = URL.createObjectURL(file);
  const save = () => {
    el("a", { href: address, download: file.name }).click();
    say(words.pictureSaved(file.name));
  };
  const share = () => navigator.share({ files: [file] }).catch(() => null);
  const canShare = navigator.canShare?.({ files: [file] }) ?? false;
  const sure = el("div", { hidden: true }, el("p", {}, words.pictureDeleteAsk), button(words.pictureDelete, async () => {
    await phone.dropPicture(each);
    await go(`pictures/${each.form}`);
  }, { second: true }));
  return el("li", {},
    el("img", { src: address, alt: words.pictureOf(about) }),
    el("p", {}, el("span", { class: "number" }, about), ` ${words.pictureSize(Math.ceil(each.size / 1024))}`),
    canShare ? button(words.pictureShare, share, { second: true }) : null,
    button(words.pictureSave, save, { second: true }),
    button(words.pictureDelete, () => uncover(sure), { second: true }), sure);
}
