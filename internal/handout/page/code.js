// The log as a code of capital letters and digits, and a QR code of it (ISO/IEC
// 18004, alphanumeric mode, error correction level L, drawn without any network).

/** CRC-32 of a text of plain letters, as eight hexadecimal digits. */
export function checkSum(text) {
  let c = ~0;
  for (const letter of text) {
    c ^= letter.charCodeAt(0);
    for (let k = 0; k < 8; k++) c = (c >>> 1) ^ (c & 1 ? 0xedb88320 : 0);
  }
  return (~c >>> 0).toString(16).toUpperCase().padStart(8, "0");
}

/** A text in base 32 (RFC 4648) of its UTF-8, without padding. */
export function base32(text) {
  const signs = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567";
  let out = "";
  let held = 0;
  let bits = 0;
  for (const b of new TextEncoder().encode(text)) {
    held = ((held << 8) | b) & 0xfff;
    for (bits += 8; bits >= 5; bits -= 5) out += signs[(held >>> (bits - 5)) & 31];
  }
  return bits ? out + signs[(held << (5 - bits)) & 31] : out;
}

/** The code of a log's days without its sum; codes names the exercises. */
function logText(log, codes) {
  const n = (v) => (v === null || v === undefined ? "-" : String(Math.round(v)));
  const days = log.days.map((d) =>
    [d.date.slice(2).replaceAll("-", ""), n(d.run_min), n(d.pain), (d.next_day ? 1 : 0) + (d.bone ? 2 : 0) + (d.ran ? 4 : 0), n(d.effort), n(d.per_min), d.done.map((id) => codes[id] ?? "").join(""), base32(d.note ?? "")].join("."),
  );
  return ["GW1", log.visit, log.sheet, ...days].join(":");
}

/** The code of a log's days in one piece, for pasting. */
export function logCode(log, codes) {
  const text = logText(log, codes);
  return text + ":" + checkSum(text);
}

/** The same as the texts of QR codes, each small enough for a plain camera. */
export function logParts(log, codes, most = 340) {
  const text = logText(log, codes);
  const sum = checkSum(text);
  const n = Math.ceil(text.length / most);
  return Array.from({ length: n }, (_, i) => `GW2:${i + 1}/${n}:${sum}:${text.slice(Math.floor((i * text.length) / n), Math.floor(((i + 1) * text.length) / n))}`);
}

const letters = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:";
// Level L, by version: error correction bytes of a block, and blocks.
const ecOf = [7, 10, 15, 20, 26, 18, 20, 24, 30, 18, 20, 24, 26, 30, 22, 24, 28, 30, 28, 28, 28, 28, 30, 30, 26, 28, 30, 30, 30, 30, 30, 30, 30, 30, 30, 30, 30, 30, 30, 30];
const blocksOf = [1, 1, 1, 1, 1, 2, 2, 2, 2, 4, 4, 4, 4, 4, 6, 6, 6, 6, 7, 8, 8, 9, 9, 10, 12, 12, 12, 13, 14, 15, 16, 17, 18, 19, 19, 20, 21, 22, 24, 25];

/** Modules for data and correction in a version. */
function roomOf(v) {
  let n = (16 * v + 128) * v + 64;
  if (v >= 2) {
    const marks = Math.floor(v / 7) + 2;
    n -= (25 * marks - 10) * marks - 55;
    if (v >= 7) n -= 36;
  }
  return n;
}

function marksOf(v) {
  if (v === 1) return [];
  const count = Math.floor(v / 7) + 2;
  const step = v === 32 ? 26 : Math.ceil((v * 4 + 4) / (count * 2 - 2)) * 2;
  const out = [6];
  for (let at = v * 4 + 10; out.length < count; at -= step) out.splice(1, 0, at);
  return out;
}

function times(a, b) {
  let z = 0;
  for (let i = 7; i >= 0; i--) {
    z = (z << 1) ^ ((z >>> 7) * 0x11d);
    z ^= ((b >>> i) & 1) * a;
  }
  return z;
}

function correction(data, degree) {
  const poly = new Array(degree).fill(0);
  poly[degree - 1] = 1;
  let root = 1;
  for (let i = 0; i < degree; i++) {
    for (let j = 0; j < degree; j++) {
      poly[j] = times(poly[j], root);
      if (j + 1 < degree) poly[j] ^= poly[j + 1];
    }
    root = times(root, 2);
  }
  const out = new Array(degree).fill(0);
  for (const b of data) {
    const factor = b ^ out.shift();
    out.push(0);
    poly.forEach((c, i) => (out[i] ^= times(c, factor)));
  }
  return out;
}

/** The modules of a QR code, rows of true for dark; null where the text does not fit or has other letters. */
export function qrModules(text) {
  for (const l of text) if (!letters.includes(l)) return null;
  let v = 1;
  let data = [];
  for (; v <= 40; v++) {
    const bits = [];
    const put = (value, n) => {
      for (let i = n - 1; i >= 0; i--) bits.push((value >>> i) & 1);
    };
    put(2, 4);
    put(text.length, v < 10 ? 9 : v < 27 ? 11 : 13);
    for (let i = 0; i < text.length; i += 2) {
      const a = letters.indexOf(text[i]);
      if (i + 1 < text.length) put(a * 45 + letters.indexOf(text[i + 1]), 11);
      else put(a, 6);
    }
    const room = (Math.floor(roomOf(v) / 8) - ecOf[v - 1] * blocksOf[v - 1]) * 8;
    if (bits.length > room) continue;
    put(0, Math.min(4, room - bits.length));
    put(0, (8 - (bits.length % 8)) % 8);
    for (let pad = 0xec; bits.length < room; pad ^= 0xec ^ 0x11) put(pad, 8);
    for (let i = 0; i < bits.length; i += 8) data.push(parseInt(bits.slice(i, i + 8).join(""), 2));
    break;
  }
  if (v > 40) return null;

  // Blocks, woven together.
  const all = Math.floor(roomOf(v) / 8);
  const count = blocksOf[v - 1];
  const ec = ecOf[v - 1];
  const short = count - (all % count);
  const shortData = Math.floor(all / count) - ec;
  const parts = [];
  for (let i = 0, at = 0; i < count; i++) {
    const own = data.slice(at, (at += shortData + (i < short ? 0 : 1)));
    parts.push({ own, fix: correction(own, ec) });
  }
  const words = [];
  for (let i = 0; i <= shortData; i++) for (const p of parts) if (i < p.own.length) words.push(p.own[i]);
  for (let i = 0; i < ec; i++) for (const p of parts) words.push(p.fix[i]);

  const size = v * 4 + 17;
  const dark = Array.from({ length: size }, () => new Array(size).fill(false));
  const fixed = Array.from({ length: size }, () => new Array(size).fill(false));
  const set = (x, y, on) => {
    if (x < 0 || y < 0 || x >= size || y >= size) return;
    dark[y][x] = on;
    fixed[y][x] = true;
  };
  for (let i = 0; i < size; i++) {
    set(6, i, i % 2 === 0);
    set(i, 6, i % 2 === 0);
  }
  for (const [cx, cy] of [[3, 3], [size - 4, 3], [3, size - 4]])
    for (let dy = -4; dy <= 4; dy++)
      for (let dx = -4; dx <= 4; dx++) {
        const far = Math.max(Math.abs(dx), Math.abs(dy));
        set(cx + dx, cy + dy, far !== 2 && far !== 4);
      }
  const marks = marksOf(v);
  marks.forEach((y, i) =>
    marks.forEach((x, j) => {
      const last = marks.length - 1;
      if ((i === 0 && j === 0) || (i === 0 && j === last) || (i === last && j === 0)) return;
      for (let dy = -2; dy <= 2; dy++) for (let dx = -2; dx <= 2; dx++) set(x + dx, y + dy, Math.max(Math.abs(dx), Math.abs(dy)) !== 1);
    }),
  );
  const format = (mask) => {
    const head = (1 << 3) | mask; // level L
    let rest = head;
    for (let i = 0; i < 10; i++) rest = (rest << 1) ^ ((rest >>> 9) * 0x537);
    const bits = ((head << 10) | rest) ^ 0x5412;
    const bit = (i) => ((bits >>> i) & 1) === 1;
    for (let i = 0; i <= 5; i++) set(8, i, bit(i));
    set(8, 7, bit(6));
    set(8, 8, bit(7));
    set(7, 8, bit(8));
    for (let i = 9; i < 15; i++) set(14 - i, 8, bit(i));
    for (let i = 0; i < 8; i++) set(size - 1 - i, 8, bit(i));
    for (let i = 8; i < 15; i++) set(8, size - 15 + i, bit(i));
    set(8, size - 8, true);
  };
  format(0);
  if (v >= 7) {
    let rest = v;
    for (let i = 0; i < 12; i++) rest = (rest << 1) ^ ((rest >>> 11) * 0x1f25);
    const bits = (v << 12) | rest;
    for (let i = 0; i < 18; i++) {
      const on = ((bits >>> i) & 1) === 1;
      set(size - 11 + (i % 3), Math.floor(i / 3), on);
      set(Math.floor(i / 3), size - 11 + (i % 3), on);
    }
  }
  let at = 0;
  for (let right = size - 1; right >= 1; right -= 2) {
    if (right === 6) right = 5;
    for (let k = 0; k < size; k++)
      for (let j = 0; j < 2; j++) {
        const x = right - j;
        const y = ((right + 1) & 2) === 0 ? size - 1 - k : k;
        if (fixed[y][x]) continue;
        if (at < words.length * 8) dark[y][x] = ((words[at >>> 3] >>> (7 - (at & 7))) & 1) === 1;
        at++;
      }
  }
  const masks = [
    (x, y) => (x + y) % 2 === 0,
    (x, y) => y % 2 === 0,
    (x) => x % 3 === 0,
    (x, y) => (x + y) % 3 === 0,
    (x, y) => (Math.floor(x / 3) + Math.floor(y / 2)) % 2 === 0,
    (x, y) => ((x * y) % 2) + ((x * y) % 3) === 0,
    (x, y) => (((x * y) % 2) + ((x * y) % 3)) % 2 === 0,
    (x, y) => (((x + y) % 2) + ((x * y) % 3)) % 2 === 0,
  ];
  const turn = (mask) => {
    for (let y = 0; y < size; y++) for (let x = 0; x < size; x++) if (!fixed[y][x] && masks[mask](x, y)) dark[y][x] = !dark[y][x];
  };
  let best = 0;
  let least = Infinity;
  for (let mask = 0; mask < 8; mask++) {
    turn(mask);
    format(mask);
    const cost = penalty(dark);
    if (cost < least) {
      least = cost;
      best = mask;
    }
    turn(mask);
  }
  turn(best);
  format(best);
  return dark;
}

/** How hard a pattern is to read: runs, blocks, look-alikes of the corners, imbalance. */
function penalty(dark) {
  const size = dark.length;
  let cost = 0;
  let on = 0;
  const line = (get) => {
    let run = 0;
    let text = "";
    for (let i = 0; i < size; i++) {
      const d = get(i);
      text += d ? "1" : "0";
      run = i > 0 && d === get(i - 1) ? run + 1 : 1;
      if (run === 5) cost += 3;
      else if (run > 5) cost++;
    }
    for (let i = text.indexOf("1011101"); i >= 0; i = text.indexOf("1011101", i + 1)) {
      const before = text.slice(Math.max(0, i - 4), i);
      const after = text.slice(i + 7, i + 11);
      if (!before.includes("1") || !after.includes("1")) cost += 40;
    }
  };
  for (let y = 0; y < size; y++) line((x) => dark[y][x]);
  for (let x = 0; x < size; x++) line((y) => dark[y][x]);
  for (let y = 0; y < size; y++)
    for (let x = 0; x < size; x++) {
      if (dark[y][x]) on++;
      if (x && y && dark[y][x] === dark[y - 1][x] && dark[y][x] === dark[y][x - 1] && dark[y][x] === dark[y - 1][x - 1]) cost += 3;
    }
  return cost + Math.floor(Math.abs(on / size / size - 0.5) * 20) * 10;
}
