"use strict";
// Part 1 of 6. Bytes: hashes, base64, deterministic CBOR, signed statements, keys, tags.
// "FORMAT" below is the file FORMAT.md that lies beside this page; numbers of steps are those of its section 9.

/** Something does not verify. kind: the failure class of FORMAT section 9. */
class Failure extends Error {
  constructor(kind, why) {
    super(why);
    this.kind = kind;
  }
}

const utf8 = new TextEncoder();
const utf8Strict = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true });

function hex(bytes) {
  let text = "";
  for (const byte of bytes) text += byte.toString(16).padStart(2, "0");
  return text;
}

function joined(...pieces) {
  const whole = new Uint8Array(pieces.reduce((sum, piece) => sum + piece.length, 0));
  let at = 0;
  for (const piece of pieces) {
    whole.set(piece, at);
    at += piece.length;
  }
  return whole;
}

/** Bytes of a base64 text; null for a text that is not the one encoding of its bytes. */
function fromBase64(text) {
  let binary;
  try {
    binary = atob(text);
  } catch {
    return null;
  }
  return btoa(binary) === text ? Uint8Array.from(binary, (character) => character.charCodeAt(0)) : null;
}

// --- SHA-256 (FIPS 180-4). Written out, so that digests are there in every browser and at once. ---

const PRIMES = [];
for (let n = 2; PRIMES.length < 64; n++) if (PRIMES.every((prime) => n % prime)) PRIMES.push(n);
const fraction = (value) => ((value - Math.floor(value)) * 2 ** 32) | 0;
const ROUNDS = Int32Array.from(PRIMES, (prime) => fraction(Math.cbrt(prime)));
const BEGIN = Int32Array.from(PRIMES.slice(0, 8), (prime) => fraction(Math.sqrt(prime)));

function sha256(message) {
  const length = message.length;
  const padded = new Uint8Array((length + 72) & ~63);
  padded.set(message);
  padded[length] = 0x80;
  const view = new DataView(padded.buffer);
  view.setUint32(padded.length - 4, length << 3);
  view.setUint32(padded.length - 8, Math.floor(length / 2 ** 29));
  const state = Int32Array.from(BEGIN);
  const w = new Int32Array(64);
  const turned = (word, by) => (word >>> by) | (word << (32 - by));
  for (let block = 0; block < padded.length; block += 64) {
    for (let t = 0; t < 16; t++) w[t] = view.getInt32(block + 4 * t);
    for (let t = 16; t < 64; t++) {
      const a = w[t - 15], b = w[t - 2];
      w[t] = w[t - 16] + w[t - 7] + (turned(a, 7) ^ turned(a, 18) ^ (a >>> 3)) + (turned(b, 17) ^ turned(b, 19) ^ (b >>> 10));
    }
    let [a, b, c, d, e, f, g, h] = state;
    for (let t = 0; t < 64; t++) {
      const one = (h + (turned(e, 6) ^ turned(e, 11) ^ turned(e, 25)) + ((e & f) ^ (~e & g)) + ROUNDS[t] + w[t]) | 0;
      const two = ((turned(a, 2) ^ turned(a, 13) ^ turned(a, 22)) + ((a & b) ^ (a & c) ^ (b & c))) | 0;
      h = g; g = f; f = e; e = (d + one) | 0;
      d = c; c = b; b = a; a = (one + two) | 0;
    }
    [a, b, c, d, e, f, g, h].forEach((word, index) => { state[index] += word; });
  }
  const out = new DataView(new ArrayBuffer(32));
  state.forEach((word, index) => out.setInt32(4 * index, word));
  return new Uint8Array(out.buffer);
}

// --- Deterministic CBOR (FORMAT section 1): a strict reader. ---

const MOST_BYTES = 65536, MOST_DEPTH = 8;
const notOneForm = (why) => new Failure("not-deterministic", `Not in the one form that the format allows: ${why}.`);
const cutShort = () => new Failure("truncated", "The data ends before the value does.");

/** Numbers (BigInt beyond 2^53), Uint8Array, text, null, Array, or Map of numbers. */
function decodeCbor(data, negativeKeys = false) {
  if (data.length > MOST_BYTES) throw new Failure("too-large", `${data.length} bytes are more than ${MOST_BYTES}.`);
  let at = 0;

  function head() {
    if (at >= data.length) throw cutShort();
    const first = data[at], major = first >> 5, short = first & 31;
    if (short > 27 && !(short === 31 && major >= 2 && major <= 5)) throw new Failure("not-cbor", "This is no CBOR value.");
    if (short === 31) throw notOneForm("an indefinite length");
    if (major > 5 && first !== 0xf6) throw notOneForm("a tag, a float or a simple value other than null");
    at += 1;
    if (short < 24) return [major, short];
    const width = 1 << (short - 24);
    if (at + width > data.length) throw cutShort();
    let argument = 0n;
    for (const end = at + width; at < end; at++) argument = (argument << 8n) | BigInt(data[at]);
    if (argument < (width === 1 ? 24n : 1n << BigInt(4 * width))) throw notOneForm("a number longer than it need be");
    return [major, argument <= Number.MAX_SAFE_INTEGER ? Number(argument) : argument];
  }

  function item(depth) {
    const [major, argument] = head();
    if (major === 0) return argument;
    if (major === 1) return typeof argument === "bigint" ? -1n - argument : -1 - argument;
    if (major === 2 || major === 3) {
      if (argument > data.length - at) throw cutShort();
      const bytes = data.subarray(at, at + argument);
      at += argument;
      return major === 2 ? bytes : text(bytes);
    }
    if (major > 5) return null;
    if (depth === 0) throw notOneForm("it is nested too deep");
    if (argument > data.length - at) throw cutShort();
    if (major === 4) return Array.from({ length: argument }, () => item(depth - 1));
    const found = new Map();
    let last = null;
    for (let pair = 0; pair < argument; pair++) {
      const key = item(0);
      if (typeof key !== "number" || (key < 0 && !negativeKeys)) throw notOneForm("a map key that is not an allowed integer");
      // Unsigned keys upwards, then -1, -2 … (RFC 8949 4.2.1).
      const after = last === null || (key >= 0 ? last >= 0 && key > last : last >= 0 || key < last);
      if (!after) throw notOneForm(`the map key ${key} is out of order or there twice`);
      last = key;
      found.set(key, item(depth - 1));
    }
    return found;
  }

  function text(bytes) {
    let found;
    try {
      found = utf8Strict.decode(bytes);
    } catch {
      throw new Failure("not-cbor", "A text is not UTF-8.");
    }
    if (/[\u0000-\u001f\u007f-\u009f]/.test(found)) throw notOneForm("a control character");
    if (found.normalize("NFC") !== found) throw notOneForm("characters that are not in composed form (NFC)");
    return found;
  }

  const value = item(MOST_DEPTH);
  if (at !== data.length) throw notOneForm("bytes follow the end of the value");
  return value;
}

/** Deterministic CBOR of whole numbers, bytes, texts and arrays of them. */
function encodeCbor(value) {
  const headOf = (major, size) => {
    const wide = size < 24 ? 0 : size < 0x100 ? 1 : size < 0x10000 ? 2 : size < 2 ** 32 ? 4 : 8;
    if (!wide) return Uint8Array.of((major << 5) | size);
    const bytes = [];
    for (let left = BigInt(size), n = 0; n < wide; n++, left >>= 8n) bytes.unshift(Number(left & 255n));
    return Uint8Array.of((major << 5) | (24 + Math.log2(wide)), ...bytes);
  };
  if (typeof value === "number") return headOf(0, value);
  if (value instanceof Uint8Array) return joined(headOf(2, value.length), value);
  if (typeof value === "string") return joined(headOf(3, utf8.encode(value).length), utf8.encode(value));
  return joined(headOf(4, value.length), ...value.map(encodeCbor));
}

// --- Statements: COSE_Sign1 (FORMAT section 3). ---

const ED25519 = -19, ALGORITHM = 1, KEY_ID = 4, KIND = -65537;

/** Steps 1 to 3: size, one form, shape, headers. Nothing of the payload is read and no signature checked. */
function openStatement(bytes, kinds) {
  const found = decodeCbor(bytes, true);
  if (found instanceof Map) throw new Failure("unsigned", "These are settings without any signature.");
  const shape = Array.isArray(found) && found.length === 4 && found[0] instanceof Uint8Array && found[1] instanceof Map &&
    found[2] instanceof Uint8Array && found[3] instanceof Uint8Array;
  if (!shape) throw new Failure("not-a-statement", "This is no signed statement.");
  const [protectedBytes, unprotected, payload, signature] = found;
  if (!signature.length) throw new Failure("unsigned", "The place of the signature is empty.");
  const header = protectedBytes.length ? decodeCbor(protectedBytes, true) : new Map();
  if (!(header instanceof Map)) throw new Failure("not-a-statement", "Its protected header is no map.");
  if (header.get(ALGORITHM) !== ED25519) throw new Failure("wrong-algorithm", "It is not signed with Ed25519.");
  if (unprotected.size || header.size !== 3 || !header.has(KEY_ID) || !header.has(KIND)) {
    throw new Failure("unknown-header", "Its headers are not exactly those of a statement.");
  }
  const keyId = header.get(KEY_ID), kind = header.get(KIND);
  if (!(keyId instanceof Uint8Array) || keyId.length !== 8 || typeof kind !== "number" || kind < 0) {
    throw new Failure("not-a-statement", "Its kind or its key id is none.");
  }
  if (!(kind in kinds)) throw new Failure("unknown-kind", `It is of kind ${kind}, which this page does not know.`);
  return { kind, keyId: hex(keyId), protectedBytes, payload, signature };
}

/** The one digest of a statement (FORMAT section 1): SHA-256 over 00 and its signed bytes. */
const digestOf = (bytes) => sha256(joined(Uint8Array.of(0), bytes));

/** What is signed: Sig_structure with external_aad [format version, log id] (FORMAT section 3). */
const signedPart = (statement, formatVersion, logId) =>
  encodeCbor(["Signature1", statement.protectedBytes, encodeCbor([formatVersion, logId]), statement.payload]);

// --- Keys (FORMAT section 1). ---

const keyIdOf = (publicKey) => hex(sha256(publicKey).subarray(0, 8));
const fingerprintOf = (publicKey) => hex(sha256(publicKey).subarray(0, 16)).match(/.{4}/g).join(" ");

const importedKeys = new Map();

/** Step 6: a signature by Ed25519 (RFC 8032) in the browser's own cryptography. */
async function isSignedBy(publicKey, message, signature) {
  const name = hex(publicKey);
  if (!importedKeys.has(name)) {
    importedKeys.set(name, crypto.subtle.importKey("raw", publicKey, { name: "Ed25519" }, false, ["verify"]));
  }
  try {
    return signature.length === 64 && await crypto.subtle.verify({ name: "Ed25519" }, await importedKeys.get(name), signature, message);
  } catch {
    return false;
  }
}

/** Whether this browser can verify Ed25519: by RFC 8032 7.1, TEST 1, and that a changed message is refused. */
async function browserCanVerify() {
  const bytes = (text) => Uint8Array.from(text.match(/../g), (pair) => parseInt(pair, 16));
  const key = bytes("d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a");
  const signature = bytes("e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46b" +
    "d25bf5f0595bbe24655141438e7a100b");
  if (!globalThis.crypto || !crypto.subtle) return false;
  return await isSignedBy(key, new Uint8Array(0), signature) && !(await isSignedBy(key, Uint8Array.of(1), signature));
}

// The curve of RFC 8032 5.1, to refuse public keys that are no point of its main group (bad-key). Only keys are looked at
// so, a few in a journal; big integers are slow, and nothing here is secret.
const P = 2n ** 255n - 19n, ORDER = 2n ** 252n + 27742317777372353535851937790883648493n;
const mod = (value) => ((value % P) + P) % P;

function power(base, exponent) {
  let result = 1n;
  for (let factor = mod(base); exponent; exponent >>= 1n, factor = mod(factor * factor)) {
    if (exponent & 1n) result = mod(result * factor);
  }
  return result;
}

const D = mod(-121665n * power(121666n, P - 2n));

function addPoints([x1, y1, z1, t1], [x2, y2, z2, t2]) {
  const a = (y1 - x1) * (y2 - x2), b = (y1 + x1) * (y2 + x2), c = 2n * t1 * t2 * D, d = 2n * z1 * z2;
  const e = mod(b - a), f = mod(d - c), g = mod(d + c), h = mod(b + a);
  return [mod(e * f), mod(g * h), mod(f * g), mod(e * h)];
}

const lookedAt = new Map();   // keys in hexadecimal, so that each is looked at once

function isGoodKey(publicKey) {
  const name = hex(publicKey);
  if (!lookedAt.has(name)) lookedAt.set(name, isOfMainGroup(publicKey));
  return lookedAt.get(name);
}

function isOfMainGroup(publicKey) {
  const number = publicKey.reduceRight((sum, byte) => (sum << 8n) | BigInt(byte), 0n);
  const y = number & (2n ** 255n - 1n), sign = number >> 255n;
  if (publicKey.length !== 32 || y >= P) return false;
  const u = mod(y * y - 1n), v = mod(D * y * y + 1n);
  let x = mod(u * power(v, 3n) * power(u * power(v, 7n), (P - 5n) / 8n));
  if (mod(v * x * x) !== u) x = mod(x * power(2n, (P - 1n) / 4n));
  if (mod(v * x * x) !== u || (x === 0n && sign)) return false;
  if ((x & 1n) !== sign) x = P - x;
  const neutral = (point) => point[0] === 0n && point[1] === point[2];
  const point = [x, y, 1n, mod(x * y)];
  let sum = [0n, 1n, 1n, 0n];
  for (let bit = 252n; bit >= 0n; bit--) {
    sum = addPoints(sum, sum);
    if ((ORDER >> bit) & 1n) sum = addPoints(sum, point);
  }
  return neutral(sum) && !neutral(point);
}

function requireGoodKey(publicKey) {
  if (!isGoodKey(publicKey)) throw new Failure("bad-key", "A public key in it is not safe to trust.");
}

// --- Tags (FORMAT section 2). ---

const ISO_7064 = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*";

function tagOf(bytes, alphabet) {
  let bits = bytes.reduce((sum, byte) => sum * 256 + byte, 0), body = "";
  for (let n = 0; n < 8; n++, bits = Math.floor(bits / 32)) body = alphabet[bits % 32] + body;
  let total = 0;
  for (const character of body) total = ((total + ISO_7064.indexOf(character)) * 2) % 37;
  const check = ISO_7064[(38 - total) % 37];
  if (!alphabet.includes(check)) throw new Failure("bad-tag", `${body} is no tag that a vault issues.`);
  return body + check;
}

const shownTag = (tag) => `${tag.slice(0, 4)} ${tag.slice(4, 8)} ${tag.slice(8)}`;
/** What somebody typed, so that it can be held against tags: O is 0, I and L are 1, blanks and hyphens fall away. */
const foldedTag = (text) => text.toUpperCase().replace(/[\s-]/g, "").replace(/O/g, "0").replace(/[IL]/g, "1");
