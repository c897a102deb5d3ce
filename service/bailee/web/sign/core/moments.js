// Times as they are signed: on the clocks of the site, with the offset they had then (RFC 3339 5.6).

const pad = (number) => String(number).padStart(2, "0");

export function offsetText(minutes) {
  const size = Math.abs(minutes);
  return `${minutes < 0 ? "-" : "+"}${pad(Math.floor(size / 60))}:${pad(size % 60)}`;
}

// Whole minutes from UTC that the clocks of an IANA zone show at a moment (ms).
export function offsetIn(ms, zone) {
  const format = new Intl.DateTimeFormat("en-CA", {
    timeZone: zone,
    hourCycle: "h23",
    year: "numeric",
    month: "2-digit",
    day: "2-digit",
    hour: "2-digit",
    minute: "2-digit",
    second: "2-digit",
  });
  const shown = Object.fromEntries(format.formatToParts(ms).map((each) => [each.type, Number(each.value)]));
  const local = Date.UTC(shown.year, shown.month - 1, shown.day, shown.hour, shown.minute, shown.second);
  return Math.floor((local - Math.floor(ms / 1000) * 1000) / 60_000);
}

// `2026-11-25T09:12:00-05:00`, in whole seconds.
export function at(ms, zone) {
  const offset = offsetIn(ms, zone);
  const local = new Date(Math.floor(ms / 1000) * 1000 + offset * 60_000).toISOString().slice(0, 19);
  return `${local}${offsetText(offset)}`;
}

// `2026-11-25 09:12 (-05:00)`, of what is signed so.
export const shownMoment = (moment) => `${moment.slice(0, 16).replace("T", " ")} (${moment.slice(19).replace("Z", "+00:00")})`;

export const dayAt = (ms, zone) => at(ms, zone).slice(0, 10);

export const hereText = (ms) => offsetText(-new Date(ms).getTimezoneOffset());

// `2026-11-30 10:30 (-06:00)`, on the clock of this device.
export const dated = (ms) =>
  `${new Date(ms - new Date(ms).getTimezoneOffset() * 60_000).toISOString().slice(0, 16).replace("T", " ")} (${hereText(ms)})`;

// By the clocks of this device.
export const zoneHere = () => Intl.DateTimeFormat().resolvedOptions().timeZone;

export const isZone = (name) => {
  try {
    return /^(UTC|[A-Z][A-Za-z]+\/.+)$/.test(name) && Boolean(new Intl.DateTimeFormat("en", { timeZone: name }));
  } catch {
    return false;
  }
};

export const clockText = (s) => `${Math.floor(s / 60)}:${pad(Math.floor(s % 60))}`;
