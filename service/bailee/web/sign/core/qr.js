// QR codes for a screen (ISO/IEC 18004): bytes, error correction level L, versions 1 to 40. A screen is neither torn
// nor stained, so the lowest level leaves the largest modules.

const LEVEL_L = 1; // The two bits of the format information that say "L".
const MASKS = [
  (x, y) => (x + y) % 2,
  (_x, y) => y % 2,
  (x) => x % 3,
  (x, y) => (x + y) % 3,
  (x, y) => (Math.floor(x / 3) + Math.floor(y / 2)) % 2,
  (x, y) => ((x * y) % 2) + ((x * y) % 3),
  (x, y) => (((x * y) % 2) + ((x * y) % 3)) % 2,
  (x, y) => (((x + y) % 2) + ((x * y) % 3)) % 2,
];
// Table 9, level L, by version: codewords of error correction in a block, and how many blocks.
const CORRECTION = [7, 10, 15, 20, 26, 18, 20, 24, 30, 18, 20, 24, 26, 30, 22, 24, 28, 30, 28, 28, 28, 28, 30, 30, 26, 28, 30, 30, 30, 30, 30, 30, 30, 30, 30, 30, 30, 30, 30, 30];
const BLOCKS = [1, 1, 1, 1, 1, 2, 2, 2, 2, 4, 4, 4, 4, 4, 6, 6, 6, 6, 7, 8, 8, 9, 9, 10, 12, 12, 12, 13, 14, 15, 16, 17, 18, 19, 19, 20, 21, 22, 24, 25];

// Rows of modules, true for dark, without the quiet zone; null where the text is longer than a symbol holds.
export function symbol(text, mask = null) {
  const bytes = new TextEncoder().encode(text);
  const version = CORRECTION.findIndex((_, i) => bytes.length <= capacity(i + 1)) + 1;
  if (!version) return null;
  const words = interleaved(version, codewords(version, bytes));
  const drawn = (mask === null ? MASKS.map((_, i) => i) : [mask]).map((each) => draw(version, words, each));
  return drawn.reduce((best, each) => (penalty(each) < penalty(best) ? each : best));
}

const side = (version) => version * 4 + 17;
const counted = (version) => (version < 10 ? 8 : 16);
const capacity = (version) => Math.floor((dataWords(version) * 8 - 4 - counted(version)) / 8);
const dataWords = (version) => allWords(version) - CORRECTION[version - 1] * BLOCKS[version - 1];

function allWords(version) {
  let bits = (16 * version + 128) * version + 64;
  if (version >= 2) {
    const each = Math.floor(version / 7) + 2;
    bits -= (25 * each - 10) * each - 55;
    if (version >= 7) bits -= 36;
  }
  return Math.floor(bits / 8);
}

function codewords(version, bytes) {
  const bits = [];
  const put = (value, width) => {
    for (let i = width - 1; i >= 0; i -= 1) bits.push((value >> i) & 1);
  };
  put(4, 4);
  put(bytes.length, counted(version));
  for (const each of bytes) put(each, 8);
  const room = dataWords(version) * 8;
  put(0, Math.min(4, room - bits.length));
  while (bits.length % 8) bits.push(0);
  for (let pad = 0xec; bits.length < room; pad ^= 0xec ^ 0x11) put(pad, 8);
  return Array.from({ length: bits.length / 8 }, (_, i) => bits.slice(i * 8, i * 8 + 8).reduce((v, b) => v * 2 + b, 0));
}

function interleaved(version, words) {
  const [blocks, correction] = [BLOCKS[version - 1], CORRECTION[version - 1]];
  const short = Math.floor(words.length / blocks);
  const longer = words.length % blocks;
  const divisor = generator(correction);
  const parts = [];
  for (let i = 0, at = 0; i < blocks; i += 1) {
    const size = short + (i >= blocks - longer ? 1 : 0);
    const data = words.slice(at, at + size);
    parts.push({ data, check: remainder(data, divisor) });
    at += size;
  }
  const out = [];
  for (let i = 0; i <= short; i += 1) for (const { data } of parts) if (i < data.length) out.push(data[i]);
  for (let i = 0; i < correction; i += 1) for (const { check } of parts) out.push(check[i]);
  return out;
}

// In the field of 256 elements over x^8 + x^4 + x^3 + x^2 + 1.
function multiplied(x, y) {
  let z = 0;
  for (let i = 7; i >= 0; i -= 1) z = ((z << 1) ^ ((z >> 7) * 0x11d)) ^ (((y >> i) & 1) * x);
  return z;
}

function generator(degree) {
  const result = Array(degree - 1).fill(0).concat(1);
  let root = 1;
  for (let i = 0; i < degree; i += 1) {
    for (let j = 0; j < degree; j += 1) result[j] = multiplied(result[j], root) ^ (result[j + 1] ?? 0);
    root = multiplied(root, 2);
  }
  return result;
}

function remainder(data, divisor) {
  const result = Array(divisor.length).fill(0);
  for (const each of data) {
    const factor = each ^ result.shift();
    result.push(0);
    divisor.forEach((coefficient, i) => (result[i] ^= multiplied(coefficient, factor)));
  }
  return result;
}

function draw(version, words, mask) {
  const size = side(version);
  const dark = Array.from({ length: size }, () => Array(size).fill(false));
  const fixed = Array.from({ length: size }, () => Array(size).fill(false));
  const set = (x, y, isDark) => {
    if (x < 0 || y < 0 || x >= size || y >= size) return;
    dark[y][x] = Boolean(isDark);
    fixed[y][x] = true;
  };
  for (let i = 0; i < size; i += 1) {
    set(6, i, i % 2 === 0);
    set(i, 6, i % 2 === 0);
  }
  for (const [cx, cy] of [[3, 3], [size - 4, 3], [3, size - 4]]) finder(set, cx, cy);
  const places = alignments(version);
  const last = places.length - 1;
  places.forEach((x, i) => places.forEach((y, j) => {
    const isFinder = (i === 0 && j === 0) || (i === 0 && j === last) || (i === last && j === 0);
    if (!isFinder) square(set, x, y);
  }));
  format(set, size, mask);
  if (version >= 7) versionBits(set, size, version);
  fill(dark, fixed, words, size);
  for (let y = 0; y < size; y += 1) for (let x = 0; x < size; x += 1) if (!fixed[y][x] && MASKS[mask](x, y) === 0) dark[y][x] = !dark[y][x];
  return dark;
}

function finder(set, cx, cy) {
  for (let dy = -4; dy <= 4; dy += 1) for (let dx = -4; dx <= 4; dx += 1) {
    const far = Math.max(Math.abs(dx), Math.abs(dy));
    set(cx + dx, cy + dy, far !== 2 && far !== 4);
  }
}

function square(set, cx, cy) {
  for (let dy = -2; dy <= 2; dy += 1) for (let dx = -2; dx <= 2; dx += 1) {
    set(cx + dx, cy + dy, Math.max(Math.abs(dx), Math.abs(dy)) !== 1);
  }
}

function alignments(version) {
  if (version === 1) return [];
  const count = Math.floor(version / 7) + 2;
  const step = version === 32 ? 26 : Math.ceil((version * 4 + 4) / (count * 2 - 2)) * 2;
  const found = [6];
  for (let at = side(version) - 7; found.length < count; at -= step) found.splice(1, 0, at);
  return found;
}

function format(set, size, mask) {
  const data = (LEVEL_L << 3) | mask;
  let rest = data;
  for (let i = 0; i < 10; i += 1) rest = (rest << 1) ^ ((rest >> 9) * 0x537);
  const bits = ((data << 10) | rest) ^ 0x5412;
  const bit = (i) => (bits >> i) & 1;
  for (let i = 0; i <= 5; i += 1) set(8, i, bit(i));
  set(8, 7, bit(6));
  set(8, 8, bit(7));
  set(7, 8, bit(8));
  for (let i = 9; i < 15; i += 1) set(14 - i, 8, bit(i));
  for (let i = 0; i < 8; i += 1) set(size - 1 - i, 8, bit(i));
  for (let i = 8; i < 15; i += 1) set(8, size - 15 + i, bit(i));
  set(8, size - 8, true);
}

function versionBits(set, size, version) {
  let rest = version;
  for (let i = 0; i < 12; i += 1) rest = (rest << 1) ^ ((rest >> 11) * 0x1f25);
  const bits = (version << 12) | rest;
  for (let i = 0; i < 18; i += 1) {
    const [a, b] = [size - 11 + (i % 3), Math.floor(i / 3)];
    set(a, b, (bits >> i) & 1);
    set(b, a, (bits >> i) & 1);
  }
}

function fill(dark, fixed, words, size) {
  let i = 0;
  for (let right = size - 1; right >= 1; right -= 2) {
    if (right === 6) right = 5;
    for (let step = 0; step < size; step += 1) {
      for (let j = 0; j < 2; j += 1) {
        const x = right - j;
        const isUpward = ((right + 1) & 2) === 0;
        const y = isUpward ? size - 1 - step : step;
        if (!fixed[y][x] && i < words.length * 8) {
          dark[y][x] = Boolean((words[i >> 3] >> (7 - (i & 7))) & 1);
          i += 1;
        }
      }
    }
  }
}

// 7.8.3: long runs, squares, what looks like a finder, and how far from half of them are dark.
function penalty(dark) {
  const size = dark.length;
  const columns = dark.map((_, x) => dark.map((row) => row[x]));
  let total = 0;
  for (const row of [...dark, ...columns]) {
    const text = row.map(Number).join("");
    for (const run of text.match(/0{5,}|1{5,}/g) ?? []) total += run.length - 2;
    for (let i = 0; i <= size - 11; i += 1) {
      const part = text.slice(i, i + 11);
      if (part === "10111010000" || part === "00001011101") total += 40;
    }
  }
  for (let y = 0; y < size - 1; y += 1) for (let x = 0; x < size - 1; x += 1) {
    const each = dark[y][x];
    if (each === dark[y][x + 1] && each === dark[y + 1][x] && each === dark[y + 1][x + 1]) total += 3;
  }
  const share = dark.flat().filter(Boolean).length / (size * size);
  return total + Math.floor(Math.abs(share * 20 - 10)) * 10;
}
