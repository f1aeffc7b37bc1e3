// SHA-256 (FIPS 180-4) of what comes piece by piece: the browser's own wants all of it in memory at once.

const BLOCK_BYTES = 64;
const LENGTH_AT = 56; // in the last block

const { roots, cubes } = constants();

// The first 32 bits of the fractional parts of the square and cube roots of the first primes, as the standard says.
function constants() {
  const primes = [];
  for (let n = 2; primes.length < 64; n += 1) if (primes.every((prime) => n % prime)) primes.push(n);
  const fraction = (root) => ((root % 1) * 2 ** 32) | 0;
  return { roots: primes.slice(0, 8).map((n) => fraction(Math.sqrt(n))), cubes: Int32Array.from(primes, (n) => fraction(Math.cbrt(n))) };
}

const turned = (word, by) => (word >>> by) | (word << (32 - by));

function schedule(view, at, words) {
  for (let i = 0; i < 16; i += 1) words[i] = view.getInt32(at + 4 * i);
  for (let i = 16; i < 64; i += 1) {
    const early = words[i - 15];
    const late = words[i - 2];
    const small0 = turned(early, 7) ^ turned(early, 18) ^ (early >>> 3);
    const small1 = turned(late, 17) ^ turned(late, 19) ^ (late >>> 10);
    words[i] = words[i - 16] + small0 + words[i - 7] + small1;
  }
}

// Takes one block of `view` into the eight words of `state`.
function take(state, view, at, words) {
  schedule(view, at, words);
  let [a, b, c, d, e, f, g, h] = state;
  for (let i = 0; i < 64; i += 1) {
    const big1 = turned(e, 6) ^ turned(e, 11) ^ turned(e, 25);
    const first = (h + big1 + ((e & f) ^ (~e & g)) + cubes[i] + words[i]) | 0;
    const big0 = turned(a, 2) ^ turned(a, 13) ^ turned(a, 22);
    const second = (big0 + ((a & b) ^ (a & c) ^ (b & c))) | 0;
    h = g;
    g = f;
    f = e;
    e = (d + first) | 0;
    d = c;
    c = b;
    b = a;
    a = (first + second) | 0;
  }
  const after = [a, b, c, d, e, f, g, h];
  for (let i = 0; i < 8; i += 1) state[i] += after[i];
}

// pieces: ArrayBuffers of any length, one after the other. Resolves with 64 hexadecimal digits.
export async function sha256(pieces) {
  const state = Int32Array.from(roots);
  const words = new Int32Array(64);
  const rest = new Uint8Array(2 * BLOCK_BYTES); // what fills no block yet; at the end the padding too
  const last = new DataView(rest.buffer);
  let held = 0;
  let bytes = 0;
  for await (const piece of pieces) {
    const fills = Math.min(held && BLOCK_BYTES - held, piece.byteLength);
    rest.set(new Uint8Array(piece, 0, fills), held);
    held += fills;
    bytes += piece.byteLength;
    if (held === BLOCK_BYTES) {
      take(state, last, 0, words);
      held = 0;
    }
    if (fills === piece.byteLength) continue;
    const view = new DataView(piece);
    let at = fills;
    for (; at + BLOCK_BYTES <= piece.byteLength; at += BLOCK_BYTES) take(state, view, at, words);
    rest.set(new Uint8Array(piece, at));
    held = piece.byteLength - at;
  }
  rest.fill(0, held);
  rest[held] = 0x80;
  const size = held < LENGTH_AT ? BLOCK_BYTES : 2 * BLOCK_BYTES;
  last.setBigUint64(size - 8, BigInt(bytes) * 8n);
  for (let at = 0; at < size; at += BLOCK_BYTES) take(state, last, at, words);
  return [...state].map((word) => (word >>> 0).toString(16).padStart(8, "0")).join("");
}
