// A scanner that types: keys that come faster than fingers, ended by Enter, wherever the focus is.

const FASTER_MS = 60;
const LEAST = 12;
const LEAST_BESIDE = 3; // where no field has the focus nobody types: it may be the short number of a seal
const SYMBOLOGY = /^\][a-z]\w/i; // sent first by scanners that tell what they read (ISO/IEC 15424)

const taken = (event) => {
  event.preventDefault();
  event.stopPropagation();
};

// `found(text)` says whether the screen takes a scan; what was typed into another field is taken out of it again.
export function listen(found) {
  let [typed, last] = ["", -Infinity];
  const heard = (event) => {
    const at = event.timeStamp; // when the key came, not when a busy phone hears of it
    const isQuick = at - last <= FASTER_MS;
    if (!isQuick) typed = "";
    last = at;
    const key = event.ctrlKey && event.key === "j" ? "Enter" : event.key; // LF
    if (key.length === 1) typed += key;
    if (key !== "Enter") return;
    if (isQuick && !typed) return taken(event); // a second end of the same scan presses no button
    const [text, field] = [typed, document.activeElement];
    typed = "";
    const before = field?.matches("input[type=text]") ? field.value : undefined;
    if (text.length < (before === undefined ? LEAST_BESIDE : LEAST)) return;
    if (before?.endsWith(text)) field.value = before.slice(0, -text.length);
    if (found(text.replace(SYMBOLOGY, ""))) taken(event);
    else if (before !== undefined) field.value = before;
  };
  document.addEventListener("keydown", heard, true);
}
