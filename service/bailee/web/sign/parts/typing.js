// A scanner that types: keys that come faster than fingers, ended by Enter, wherever the focus is.

const FASTER_MS = 60;
const LEAST = 12;
const LEAST_BESIDE = 3; // where no field has the focus nobody types: it may be the short number of a seal

// `found(text)` says whether the screen takes a scan; what was typed into another field is taken out of it again.
export function listen(found) {
  let [typed, last] = ["", -Infinity];
  const heard = (event) => {
    const at = event.timeStamp; // when the key came, not when a busy phone hears of it
    if (at - last > FASTER_MS) typed = "";
    last = at;
    if (event.key.length === 1) typed += event.key;
    if (event.key !== "Enter") return;
    const [text, field] = [typed, document.activeElement];
    typed = "";
    const before = field?.matches("input[type=text]") ? field.value : undefined;
    if (text.length < (before === undefined ? LEAST_BESIDE : LEAST)) return;
    if (before?.endsWith(text)) field.value = before.slice(0, -text.length);
    if (found(text)) {
      event.preventDefault();
      event.stopPropagation();
    } else if (before !== undefined) {
      field.value = before;
    }
  };
  document.addEventListener("keydown", heard, true);
}
