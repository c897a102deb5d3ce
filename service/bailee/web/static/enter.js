"use strict";
// The token stands behind the # of the link, where no server sees it. It is taken out of the address at once, so that it
// stays neither on the screen nor in the history, and exchanged for a cookie.
const progress = document.getElementById("progress");
const how = document.getElementById("how");

function sorry(sentence) {
  progress.textContent = sentence;
  progress.className = "sorry";
  how.hidden = false;
}

async function enter() {
  const token = location.hash.slice(1);
  if (!token) return;
  history.replaceState(null, "", location.pathname);
  how.hidden = true;
  progress.className = "";
  progress.textContent = "Entering…";
  try {
    const answer = await fetch("/session", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ token }),
    });
    const told = await answer.json();
    if (answer.ok) location.replace(told.next);
    else sorry(told.detail);
  } catch {
    sorry("The service could not be reached: check the network and open the link again.");
  }
}

addEventListener("hashchange", enter); // a link pasted into this open page changes only what stands behind the #
enter();
