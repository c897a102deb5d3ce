// A scanner that types: keys that come faster than fingers, ended by Enter, wherever the focus is.

const FASTER_MS = 60;
const LEAST = 12;
const LEAST_BESIDE = 3; // where no field has the focus nobody types: it may be the short number of a seal
const SYMBOLOGY = /^\][a-z]\w/i; // sent first by scanners that tell what they read (ISO/IEC 15424)

const taken = (event) => {
  event.preventDefault();
  event.stopPropagation();
};

// `found(text)` says whether the screen takes a scan; what it typed into another field, and over what was marked there, is
// as it was before.
export function listen(found) {
  let [typed, last, before] = ["", -Infinity, null];
  const heard = (event) => {
    const at = event.timeStamp; // when the key came, not when a busy phone hears of it
    const isQuick = at - last <= FASTER_MS;
    if (!isQuick) typed = "";
    last = at;
    const key = event.ctrlKey && event.key === "j" ? "Enter" : event.key; // LF
    const field = document.activeElement?.matches("input[type=text]") ? document.activeElement : null;
    if (!typed) before = field?.value;
    if (key.length === 1) typed += key;
    if (key !== "Enter") return;
    if (isQuick && !typed) return taken(event); // a second end of the same scan presses no button
    const text = typed;
    typed = "";
    if (text.length < (field ? LEAST : LEAST_BESIDE)) return;
    const scanned = field?.value;
    if (field) field.value = before;
    if (found(text.replace(SYMBOLOGY, ""))) taken(event);
    else if (field) field.value = scanned;
  };
  document.addEventListener("keydown", heard, true);
}
