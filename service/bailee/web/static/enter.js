"use strict";
// The token stands behind the # of the link, where no server sees it. It is taken out of the address at once, so that it
// stays neither on the screen nor in the history, and exchanged for a cookie.
const token = location.hash.slice(1);
if (token) {
  const progress = document.getElementById("progress");
  history.replaceState(null, "", location.pathname);
  document.getElementById("how").hidden = true;
  progress.textContent = "Entering…";
  const sorry = (sentence) => {
    progress.textContent = sentence;
    progress.className = "sorry";
    document.getElementById("how").hidden = false;
  };
  fetch("/session", {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify({ token }),
  })
    .then(async (answer) => {
      const told = await answer.json();
      if (answer.ok) location.replace(told.next);
      else sorry(told.detail);
    })
    .catch(() => sorry("The service could not be reached: check the network and open the link again."));
}
