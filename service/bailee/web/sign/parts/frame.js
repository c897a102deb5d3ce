// The frame of every screen: the strip on top, one question, the bar for the thumb, a polite line and an alarm.

import { el } from "./el.js";

const place = (id) => document.getElementById(id);
const LARGEST = 1 / 3;

// A bar that takes more of the window than that (large text, a phone held across) goes with the page: it would hide what
// there is to read.
export function fitBar() {
  const bar = place("bar");
  const fit = () => {
    const flows = bar.classList.toggle("flows", bar.offsetHeight > innerHeight * LARGEST);
    document.documentElement.style.scrollPaddingBottom = flows ? "" : `${bar.offsetHeight}px`; // what is asked back is seen
  };
  new ResizeObserver(fit).observe(bar);
  addEventListener("resize", fit);
}

// `screen` is {title, body, bar}: elements; the heading gets the focus. Quietly, the same screen is brought up to date
// where nobody is typing, and neither focus nor place is moved.
export function show({ title, body = [], bar = [] }, { quietly = false } = {}) {
  const isIdle = [document.body, place("main").querySelector("h1")].includes(document.activeElement);
  if (quietly && !isIdle) return;
  const heading = el("h1", { tabindex: "-1" }, title);
  place("main").replaceChildren(heading, ...body.filter(Boolean));
  place("bar").replaceChildren(...bar.filter(Boolean));
  document.title = title;
  if (quietly) return;
  say("");
  alarm("");
  scrollTo(0, 0);
  heading.focus({ preventScroll: true });
}

// What another button asks for, above the bar.
export function uncover(element) {
  element.hidden = false;
  element.scrollIntoView({ block: "end" });
}

export const say = (text) => place("live").replaceChildren(text);

export const alarm = (text) => place("alarm").replaceChildren(text);

export function strip(words, { isThere, waiting, refused, clock }) {
  const fate = [refused ? words.refused(refused) : "", waiting ? words.toSend(waiting) : ""].filter(Boolean).join(", ");
  place("strip").replaceChildren(
    el("span", { class: isThere ? "there" : "away" }, isThere ? words.network : words.noNetwork),
    el("a", { href: "#signed", class: fate ? "waits" : "" }, fate || words.allSent),
    ...(clock ? [el("p", { class: "clock" }, clock)] : []),
  );
}

export function button(text, act, { second = false, id = null } = {}) {
  const made = el("button", { type: "button", class: second ? "second" : "", id }, text);
  made.addEventListener("click", async () => {
    if (made.getAttribute("aria-disabled")) return;
    made.setAttribute("aria-disabled", "true");
    say(""); // what was read before it
    try {
      await act();
    } finally {
      made.removeAttribute("aria-disabled");
    }
  });
  return made;
}

export const link = (text, href, second = true) => el("a", { href, class: `button${second ? " second" : ""}` }, text);
