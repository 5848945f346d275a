// Part 2 of 4. The journal: payloads by the format's own table, signers, what may follow what, tree and checkpoint.

// --- Payloads (FORMAT section 5). `format` is made from the very description that the writing side uses. ---

const badPayload = (path, why) => new Failure("bad-payload", `${path}: ${why}`);
const NOT_SET = { toString: () => "not set" };

/** A body as an object of named values. Unknown keys are refused: within one format version there are none. */
function readBody(format, className, value, path = className) {
  const { form, fields } = format.classes[className];
  let found = value;
  if (form === "array") {
    if (!Array.isArray(value) || value.length > fields.length || (value.length && value.at(-1) === null)) {
      throw badPayload(path, `not an array of at most ${fields.length}`);
    }
    found = new Map(value.map((item, index) => [fields[index].key, item]).filter(([, item]) => item !== null));
  }
  if (!(found instanceof Map)) throw badPayload(path, "not a map");
  const body = {};
  let known = 0;
  for (const field of fields) {
    if (found.has(field.key)) {
      known += 1;
      body[field.name] = readValue(format, field, found.get(field.key), `${path}.${field.name}`);
    } else if (field.required) {
      throw badPayload(`${path}.${field.name}`, "left out");
    }
  }
  if (known !== found.size) throw badPayload(path, "a key that the format does not have");
  furtherRules(className, body, path);
  return body;
}

function readValue(format, field, value, path) {
  const least = field.least ?? 0, whole = Number.isInteger(value);
  if (value === null) {
    if (field.not_set) return NOT_SET;
    throw badPayload(path, "null");
  }
  switch (field.shape) {
    case "whole":
      if (!whole || value < least || value > field.most) throw badPayload(path, `${value} is not ${least} to ${field.most}`);
      return value;
    case "text": {
      const length = typeof value === "string" ? [...value].length : 0;
      const clean = length >= least && length <= field.most && value === value.trim() && !/[\p{C}\p{Zl}\p{Zp}]|(?! )\p{Zs}/u.test(value);
      if (!clean) throw badPayload(path, `not ${least} to ${field.most} printable characters`);
      return value;
    }
    case "raw":
      if (!(value instanceof Uint8Array) || value.length < least || value.length > field.most) {
        throw badPayload(path, `not ${least} to ${field.most} bytes`);
      }
      return value;
    case "flag":
      if (value !== 0 && value !== 1) throw badPayload(path, "neither 0 nor 1");
      return value === 1;
    case "choice":
      if (!whole || !(value in field.words)) throw badPayload(path, `${value} has no meaning`);
      return field.words[value];
    case "choices": {
      const bits = [];
      for (let bit = 0; bit < 32; bit++) if (whole && value >= 0 && Math.floor(value / 2 ** bit) % 2) bits.push(bit);
      if (!whole || value < 0 || value >= 2 ** 32 || !bits.every((bit) => bit in field.words)) throw badPayload(path, "no known bit mask");
      return bits.map((bit) => field.words[bit]);
    }
    case "part":
      return readBody(format, field.kind, value, path);
    case "parts":
      if (!Array.isArray(value) || !value.length || value.length < least || value.length > field.most) {
        throw badPayload(path, `not a list of ${Math.max(least, 1)} to ${field.most}`);
      }
      return value.map((item, index) => readBody(format, field.kind, item, `${path}.${index + 1}`));
    case "table":
      return readTable(field, value, path);
    case "names":
      return readNames(field, value, path);
    default:
      throw badPayload(path, "a shape that this page does not know");
  }
}

/** A packed table: rows one after the other, each column big-endian. */
function readTable(field, value, path) {
  const step = field.widths.reduce((sum, width) => sum + width, 0);
  if (!(value instanceof Uint8Array) || value.length % step) throw badPayload(path, "not a whole table");
  const rows = [];
  for (let at = 0; at < value.length;) {
    const cells = field.widths.map((width) => {
      let cell = 0;
      for (const end = at + width; at < end; at++) cell = cell * 256 + value[at];
      return cell;
    });
    rows.push(cells.length === 1 ? cells[0] : cells);
  }
  if (rows.length > field.most) throw badPayload(path, `more than ${field.most} rows`);
  if (field.fill !== undefined) {
    if (rows.length && rows.at(-1) === field.fill) throw badPayload(path, `${field.fill} at its end`);
    while (rows.length < field.most) rows.push(field.fill);
  }
  return rows;
}

/** Names with values that nobody but the driver's maker understands: kept as they are. */
function readNames(field, value, path) {
  if (!Array.isArray(value) || value.length % 2 || value.length > 2 * field.most) throw badPayload(path, "no pairs of name and value");
  const pairs = [];
  for (let at = 0; at < value.length; at += 2) {
    const [name, held] = [value[at], value[at + 1]];
    const good = typeof held === "string" ? [...held].length <= 64 : Number.isInteger(held) && held >= 0 && held < 2 ** 32;
    if (typeof name !== "string" || !name || [...name].length > 24 || !good) throw badPayload(path, "a name or value that is not allowed");
    pairs.push([name, held]);
  }
  const codePoints = (text) => [...text].map((character) => character.codePointAt(0).toString(16).padStart(6, "0")).join("");
  for (let n = 1; n < pairs.length; n++) {
    if (codePoints(pairs[n - 1][0]) >= codePoints(pairs[n][0])) throw badPayload(path, "names out of order");
  }
  return pairs;
}

const slices = (bytes, size) => Array.from({ length: bytes.length / size }, (_, n) => hex(bytes.subarray(n * size, (n + 1) * size)));
const predecessorsOf = (record) => slices(record.predecessors ?? new Uint8Array(0), 16);

/** Rules of section 5 that bind fields to one another, for what this page acts upon; those of driver models it leaves out. */
function furtherRules(className, body, path) {
  const need = (true_, why) => { if (!true_) throw badPayload(path, why); };
  const rising = (list) => list.every((item, index) => index === 0 || list[index - 1] < item);
  if (className === "Record") {
    need((body.predecessors?.length ?? 0) % 16 === 0 && rising(predecessorsOf(body)), "its predecessors are no list in order");
    need((body.version === 1) === (predecessorsOf(body).length === 0), "version 1 alone has no predecessors");
    need((body.version === 1) === (body.reason === "handover"), "version 1 alone is for handover");
  } else if (className === "Settings") {
    const figure = body.output === "constant-current" ? "current_ma" : "voltage_mv";
    need(body.channels.every((channel) => channel[figure] !== undefined), `a channel without ${figure}`);
  } else if (className === "Control") {
    need(body.protocol !== "dali" || body.min_level !== undefined, "a DALI control without min_level");
  } else if (className === "Emergency") {
    need(!Number.isInteger(body.prolong_s) || body.prolong_s % 30 === 0, "prolong_s is no multiple of 30");
    need(!Number.isInteger(body.test_delay_min) || body.test_delay_min % 15 === 0, "test_delay_min is no multiple of 15");
  } else if (className === "Grant") {
    need(body.until_s === undefined || body.until_s >= body.time_s, "it ends before it begins");
  } else if (className === "Withdrawal") {
    need((body.trusted_until === undefined) === (body.trusted_digest === undefined), "trusted_until and trusted_digest stand together");
  } else if (className === "Appointment") {
    need(rising(body.endorsements.map((one) => one.recovery_key)), "endorsements out of order");
  } else if (className === "Genesis") {
    need(body.recovery_keys.length % 32 === 0 && body.recovery_needed <= body.recovery_keys.length / 32, "too few recovery keys");
  } else if (className === "Recovery") {
    need(body.digests.length % 32 === 0, "digests have 32 bytes each");
  }
}

// --- Signers (FORMAT section 6, Grants and withdrawals, Authority). ---

/** Who may sign what, by places in the journal. A term: { code, roles, publicKey, from, to, until, by }. */
class Signers {
  constructor(genesis) {
    this.terms = new Map();
    this.limits = new Map();
    this.clock = [{ at: 0, time: genesis.time_s }];
    this.appointed = 0;
    this.recoveryKeys = Array.from({ length: genesis.recovery_keys.length / 32 }, (_, n) => genesis.recovery_keys.subarray(32 * n, 32 * n + 32));
    this.genesis = genesis;
    this.begin({ code: "AUTH", roles: ["authority"], publicKey: genesis.authority_key, from: 0 });
  }

  begin(term) {
    const ident = keyIdOf(term.publicKey), terms = this.terms.get(ident) ?? [];
    if (terms.length && terms.at(-1).to === undefined) terms.at(-1).to = term.from;
    this.terms.set(ident, [...terms, { ...term, ident }]);
  }

  /** Takes in a verified statement of the kinds 2, 3 and 17. */
  feed(kind, body, at, by) {
    if (kind === "grant") {
      this.begin({ code: body.code, roles: body.roles, publicKey: body.public_key, from: at, until: body.until_s, by });
    } else if (kind === "withdrawal") {
      const ident = hex(body.key_id), last = this.terms.get(ident)?.at(-1);
      if (last && last.to === undefined) last.to = at;
      if (body.trusted_until !== undefined) {
        this.limits.set(ident, [...(this.limits.get(ident) ?? []), { at, until: body.trusted_until, digest: hex(body.trusted_digest) }]);
      }
    } else if (kind === "appointment") {
      for (const terms of this.terms.values()) {
        const last = terms.at(-1);
        if (body.ends_others && last.to === undefined && last.roles.includes("authority")) last.to = at;
      }
      this.begin({ code: body.code, roles: ["authority"], publicKey: body.public_key, from: at });
      this.appointed += 1;
    } else {
      return;
    }
    this.clock.push({ at, time: body.time_s });
  }

  /** Step 4: the term of a key that covers a place. */
  at(ident, place) {
    const term = (this.terms.get(ident) ?? []).filter((one) => one.from <= place).at(-1);
    if (!term) throw new Failure("unknown-signer", `The key ${ident} was granted no role before entry ${place}.`);
    if (term.to !== undefined && term.to <= place) throw new Failure("withdrawn-signer", `${term.code} was withdrawn at entry ${term.to}.`);
    if (term.until !== undefined) {
      const late = Math.max(0, ...this.clock.filter((one) => one.at > term.from && one.at < place).map((one) => one.time));
      this.requireInTime(term, late);
    }
    return term;
  }

  requireInTime(term, time) {
    if (term.until !== undefined && time > term.until) throw new Failure("expired-signer", `The time of ${term.code} was over.`);
  }

  /** Section 6, a key that was in wrong hands: why an entry is doubtful, or "". digestAt: digests by place. */
  doubt(ident, place, digestAt) {
    const terms = (this.terms.get(ident) ?? []).filter((one) => one.from < place || one.from === 0);
    for (const limit of this.limits.get(ident) ?? []) {
      const same = limit.until < limit.at && digestAt[limit.until]?.startsWith(limit.digest);
      if (place < limit.at && (!same || place > limit.until)) {
        return `${terms.at(-1)?.code ?? ident}, whose key was in wrong hands, says the withdrawal at entry ${limit.at}`;
      }
    }
    const last = terms.at(-1);
    return last?.by !== undefined ? this.doubt(last.by, last.from, digestAt) : "";
  }
}

// --- What may follow what (FORMAT section 6). ---

const REVISED = { rating: "code", "driver-model": "model", circuit: "name", line: "name" };

class Journal {
  constructor(format, canVerify) {
    this.format = format;
    this.canVerify = canVerify;
    this.entries = [];          // { place, kind, body, digest, signer, failure }
    this.digests = [];
    this.failures = [];         // { place, kind, why, tag }
    this.luminaires = new Map();  // tag -> { tag, records, approvals, labels, failures }
    this.newest = { rating: new Map(), "driver-model": new Map(), circuit: new Map(), line: new Map() };
    this.ratings = new Map();   // first 8 digest bytes -> entry
    this.records = new Map();   // digest -> entry
    this.copies = new Map();    // tag -> highest copy issued
    this.accepted = new Set();  // digests that a recovery accepts
    this.taken = new Map();     // log id -> { size, key }
    this.signers = null;
  }

  luminaire(tag) {
    if (!this.luminaires.has(tag)) this.luminaires.set(tag, { tag, records: [], labels: [], failures: [] });
    return this.luminaires.get(tag);
  }

  tag(bytes) {
    return tagOf(bytes, this.format.alphabet);
  }

  /** Step 8. Throws what section 6 says of the statement's place. */
  checkPlace(entry) {
    const { kind, body } = entry, broken = (why, name = "bad-chain") => { throw new Failure(name, why); };
    if (kind === "record") {
      this.checkRecord(entry);
    } else if (kind === "genesis" || kind === "stock-movement") {
      broken("It does not belong here.");
    } else if (kind === "grant") {
      requireGoodKey(body.public_key);
    } else if (kind === "withdrawal") {
      if (!this.signers.terms.has(hex(body.key_id))) broken("The key was never granted a role.");
    } else if (kind === "approval") {
      const record = this.records.get(hex(body.record_digest));
      if (!record) broken("It approves a record that the journal does not hold.");
      if (record.keyId === entry.keyId) broken("A signer cannot approve their own record.", "wrong-role");
    } else if (kind === "label-issue") {
      for (const label of body.labels) {
        const held = this.luminaires.get(this.tag(label.tag))?.records ?? [];
        if (!held.some((one) => one.digest.startsWith(hex(label.record_digest)))) broken("A label is of a record that the journal does not hold.");
      }
    } else if (kind === "label-placed" || kind === "label-withdrawal" || kind === "label-sighting") {
      for (const label of body.labels) {
        const tag = this.tag(label.tag);
        if (kind === "label-sighting" && !this.luminaires.get(tag)?.records.length) broken(`No luminaire ${shownTag(tag)} is in the journal.`);
        if (label.copy !== undefined && label.copy > (this.copies.get(tag) ?? 0)) broken(`Copy ${label.copy} of ${shownTag(tag)} was never issued.`);
      }
    } else if (kind === "recovery") {
      if (!slices(body.digests, 32).every((digest) => this.records.has(digest))) broken("It names a record that the journal does not hold.");
    } else if (kind === "take-over") {
      const before = this.taken.get(hex(body.log_id)), said = takeOverSaid(body);
      if (hex(body.log_id) === hex(this.signers.genesis.log_id)) broken("A vault cannot take over its own log.");
      if (before && before.key !== hex(body.authority_key)) broken("That log was taken over as another authority's.");
      if (before && said.size <= before.size) broken("It takes over no more than was taken over before.");
    } else if (kind in REVISED) {
      const last = this.newest[kind].get(body[REVISED[kind]])?.body.revision ?? 0;
      if (body.revision !== last + 1) broken(`Revision ${body.revision} of ${body[REVISED[kind]]} cannot follow revision ${last}.`);
    }
  }

  /** What a recovery anywhere in the journal lifts is kept aside and decided at the end (section 6, Recovery). */
  checkRecord(entry) {
    const { body } = entry, held = this.luminaires.get(this.tag(body.tag))?.records ?? [];
    const broken = (why, name = "bad-chain") => new Failure(name, why);
    const names = predecessorsOf(body);
    const named = names.map((prefix) => held.find((one) => one.digest.startsWith(prefix))).filter(Boolean);
    const highest = Math.max(0, ...named.map((one) => one.body.version));
    if (named.length && named.length === names.length && body.version !== 1 + highest) throw broken(`It says version ${body.version} after version ${highest}.`);
    const follows = (before) => this.format.may_follow[before].includes(body.reason);
    if (!named.every((one) => follows(one.body.reason))) throw broken(`A version for ${body.reason} may not stand there.`);
    if (body.version === 1 && held.length) {
      entry.unless = broken("The tag has been used already.", "tag-in-use");
    } else if (named.length !== names.length) {
      entry.unless = broken("It follows a version that the journal does not hold.");
    } else if (!named.length && !follows("none")) {
      entry.unless = broken(`A version for ${body.reason} may not stand first.`);
    } else {
      const rating = this.ratings.get(hex(body.fixture_type.digest))?.body;
      const right = rating?.code === body.fixture_type.code && rating.revision === body.fixture_type.revision;
      if (!right) entry.unless = broken(`It names a rating of ${body.fixture_type.code} that the journal does not hold.`);
      else if (body.taken_from && !this.taken.has(hex(body.taken_from.log_id))) entry.unless = broken("It was taken from a log that was never taken over.");
    }
  }

  /** Takes in a statement that was verified (or, in a browser without cryptography, read). */
  take(entry) {
    const { kind, body, place } = entry;
    if (kind === "genesis") this.signers = new Signers(body);
    else this.signers.feed(kind, body, place, entry.keyId);
    if (kind === "record") {
      this.records.set(entry.digest, entry);
      this.luminaire(this.tag(body.tag)).records.push(entry);
      entry.approvals = [];
    } else if (kind === "approval") {
      this.records.get(hex(body.record_digest)).approvals.push(entry);
    } else if (kind in REVISED) {
      this.newest[kind].set(body[REVISED[kind]], entry);
      if (kind === "rating") this.ratings.set(entry.digest.slice(0, 16), entry);
    } else if (kind === "recovery") {
      for (const digest of slices(body.digests, 32)) this.accepted.add(digest);
    } else if (kind === "take-over") {
      this.taken.set(hex(body.log_id), { size: takeOverSaid(body).size, key: hex(body.authority_key), site: body.site, host: body.host });
    } else if (kind.startsWith("label-")) {
      for (const label of body.labels) {
        const tag = this.tag(label.tag);
        if (kind === "label-issue") this.copies.set(tag, Math.max(label.copy, this.copies.get(tag) ?? 0));
        this.luminaire(tag).labels.push({ entry, label });
      }
    }
  }

  /** Notes that an entry does not verify. tag: the luminaire that it claims to be of, where that can be read at all. */
  fail(place, failure, tag) {
    this.failures.push({ place, kind: failure.kind, why: failure.message, tag });
    if (tag) this.luminaire(tag).failures.push(this.failures.at(-1));
  }

  /** At the end: records that only a recovery could have lifted. */
  settle() {
    for (const entry of this.records.values()) {
      if (entry.unless && !this.accepted.has(entry.digest)) this.fail(entry.place, entry.unless, this.tag(entry.body.tag));
    }
  }
}

/** Origin, size and root of a checkpoint, and the signature lines of its note (C2SP signed-note, tlog-checkpoint). */
function readNote(text) {
  const bad = (why) => new Failure("bad-note", `This is no signed checkpoint: ${why}.`);
  const split = text.lastIndexOf("\n\n");
  if (split < 0 || !text.endsWith("\n")) throw bad("no signature line follows a blank line");
  const [origin, size, root] = text.slice(0, split).split("\n");
  const rootBytes = fromBase64(root ?? "");
  if (!/^(0|[1-9][0-9]{0,15})$/.test(size ?? "") || rootBytes?.length !== 32) throw bad("size or root is none");
  const lines = text.slice(split + 2, -1).split("\n").map((line) => /^— ([^\s+]+) ([A-Za-z0-9+/=]+)$/.exec(line));
  if (!lines.every(Boolean)) throw bad("a signature line is none");
  return { body: text.slice(0, split + 1), origin, size: Number(size), root: rootBytes,
    signatures: lines.map(([, name, blob]) => ({ name, blob: fromBase64(blob) ?? new Uint8Array(0) })) };
}

function takeOverSaid(body) {
  try {
    const note = readNote(utf8Strict.decode(body.checkpoint));
    if (note.origin === `${body.host.toLowerCase()}/${hex(body.log_id)}` && note.size > 0) return note;
  } catch {
    // told below
  }
  throw new Failure("bad-payload", "What it calls a checkpoint of the other log is none.");
}

/** Section 7: a note is signed by the genesis's checkpoint key, and its size and root are those of these statements. */
async function checkCheckpoint(text, genesis, digests) {
  const note = readNote(text), name = `${genesis.host.toLowerCase()}/${hex(genesis.log_id)}`;
  if (note.origin !== name) throw new Failure("other-vault", `The checkpoint is of ${note.origin}, the journal is ${name}.`);
  const keyHash = hex(sha256(joined(utf8.encode(`${name}\n`), Uint8Array.of(1), genesis.checkpoint_key)).subarray(0, 4));
  const ours = note.signatures.filter((one) => one.name === name && hex(one.blob.subarray(0, 4)) === keyHash);
  if (!ours.length) throw new Failure("unknown-signer", "The checkpoint is not signed by the key that the first entry names.");
  for (const one of ours) {
    if (!(await isSignedBy(genesis.checkpoint_key, utf8.encode(note.body), one.blob.subarray(4)))) {
      throw new Failure("bad-signature", "The signature under the checkpoint does not match.");
    }
  }
  if (note.size > digests.length) throw new Failure("rollback", `The checkpoint saw ${note.size} entries; here are ${digests.length}.`);
  const root = hex(rootOf(digests));
  if (note.size < digests.length || root !== hex(note.root)) throw new Failure("fork", "These entries are not those that the checkpoint saw.");
  return { size: note.size, root };
}

/** The root of a Merkle tree over leaf hashes (RFC 9162 2.1.1). */
function rootOf(leaves) {
  if (!leaves.length) return sha256(new Uint8Array(0));
  let level = leaves;
  while (level.length > 1) {
    const next = [];
    for (let at = 0; at < level.length; at += 2) {
      next.push(at + 1 < level.length ? sha256(joined(Uint8Array.of(1), level[at], level[at + 1])) : level[at]);
    }
    level = next;
  }
  return level[0];
}

// --- The walk over all entries (FORMAT section 9). ---

const ABOUT_SIGNERS = ["genesis", "grant", "withdrawal", "appointment"];
const AT_ONCE = 128;

/** Reads and verifies every entry in order. canVerify false: reads alone, nothing counts as verified. tell(done): progress. */
async function walkJournal(format, statements, canVerify, tell) {
  const journal = new Journal(format, canVerify), leaves = [];
  let started = [];   // entries whose signatures the browser is checking, of the same signers' state

  async function finish() {
    const good = await Promise.all(started.map((entry) => entry.signed));
    started.forEach((entry, index) => complete(journal, entry, good[index]));
    started = [];
    tell(leaves.length, journal);
    await new Promise((resume) => setTimeout(resume));
  }

  for (const [place, bytes] of statements.entries()) {
    leaves.push(digestOf(bytes));
    journal.digests.push(hex(leaves.at(-1)));
    const entry = { place, digest: journal.digests.at(-1), bytes };
    try {
      if (!bytes.length) throw new Failure("truncated", "The entry is not whole.");
      Object.assign(entry, openStatement(bytes, format.kinds));   // steps 1 to 3
      entry.number = entry.kind;
      entry.kind = format.kinds[entry.number].name;
      if (ABOUT_SIGNERS.includes(entry.kind) || started.length >= AT_ONCE) await finish();
      entry.signed = startSignature(journal, entry);
    } catch (failure) {
      entry.signed = Promise.resolve(failure);
    }
    started.push(entry);
    if (ABOUT_SIGNERS.includes(entry.kind)) await finish();
  }
  await finish();
  journal.settle();
  return { journal, leaves };
}

/** In a browser that cannot verify, a signature is passed over, and nothing counts as verified. */
const isGood = async (journal, key, message, signature) => !journal.canVerify || isSignedBy(key, message, signature);

/** Steps 4 to 6, or in the order that section 9 gives for a genesis and an appointment. Gives true, or the failure. */
async function startSignature(journal, entry) {
  const { format } = journal;
  try {
    if (!entry.place !== (entry.kind === "genesis")) throw new Failure("bad-chain", "A journal begins with its one genesis.");
    if (entry.kind === "genesis" || entry.kind === "appointment") entry.body = readPayload(format, entry);
    if (entry.kind !== "genesis" && !journal.signers) throw new Failure("bad-chain", "There is no good genesis to hold it against.");
    const logId = (journal.signers?.genesis ?? entry.body).log_id;
    let key = entry.body?.authority_key ?? entry.body?.public_key;
    if (key) {
      requireGoodKey(key);
      if (entry.kind === "genesis") requireGoodKey(entry.body.checkpoint_key);
      if (entry.kind === "appointment" && keyIdOf(key) !== entry.keyId) throw new Failure("unknown-signer", "It is signed by another key than it appoints.");
    } else {
      entry.signer = journal.signers.at(entry.keyId, entry.place);   // step 4
      const may = format.kinds[entry.number].roles.map((role) => format.roles[role]);
      if (!entry.signer.roles.some((role) => may.includes(role))) {   // step 5
        throw new Failure("wrong-role", `${entry.signer.code} holds ${entry.signer.roles.join(" and ")} and may not sign a ${entry.kind}.`);
      }
      key = entry.signer.publicKey;
    }
    if (!(await isGood(journal, key, signedPart(entry, format.format_version, logId), entry.signature))) {   // step 6
      throw new Failure("bad-signature", "The signature does not match: the content was changed, or another key signed it.");
    }
    if (entry.kind === "appointment") await checkAppointment(journal, entry, logId);
    return true;
  } catch (failure) {
    return failure instanceof Failure ? failure : new Failure("not-a-statement", String(failure));
  }
}

async function checkAppointment(journal, entry, logId) {
  const { signers, format } = journal, { body } = entry, keys = signers.recoveryKeys;
  const message = encodeCbor(["gearkeep appointment", format.format_version, logId, body.public_key, body.code, body.number,
    body.time_s, body.ends_others ? 1 : 0]);
  const used = new Set();
  for (const { recovery_key: number, signature } of body.endorsements) {
    const key = keys[number - 1];
    if (!key || !isGoodKey(key) || !(await isGood(journal, key, message, signature))) throw new Failure("bad-endorsement", `Endorsement ${number} is not good.`);
    used.add(hex(key));
  }
  if (used.size < signers.genesis.recovery_needed) throw new Failure("too-few-endorsements", "Too few recovery keys endorsed it.");
  if (body.endorsements.length !== signers.genesis.recovery_needed) throw new Failure("bad-endorsement", "It carries more endorsements than it takes.");
  if (body.number !== signers.appointed + 1) throw new Failure("bad-chain", `It would be appointment ${signers.appointed + 1}.`);
  if (signers.terms.has(keyIdOf(body.public_key))) throw new Failure("bad-chain", "The key that it appoints held a role before.");
  if ([...keys, signers.genesis.checkpoint_key].some((key) => hex(key) === hex(body.public_key))) throw new Failure("bad-key", "That key has another use.");
}

/** Step 7. Only behind a good signature, but for a genesis and an appointment. */
function readPayload(format, entry) {
  const name = format.kinds[entry.number].body;
  try {
    return readBody(format, name, decodeCbor(entry.payload), name);
  } catch (failure) {
    throw failure.kind === "bad-payload" ? failure : new Failure("bad-payload", `The payload is not as the format says. ${failure.message}`);
  }
}

/** Steps 7 and 8, in the order of the journal. */
function complete(journal, entry, outcome) {
  journal.entries.push(entry);
  try {
    if (outcome !== true) throw outcome;
    entry.body ??= readPayload(journal.format, entry);
    if (entry.signer) journal.signers.requireInTime(entry.signer, entry.body.time_s ?? 0);
    if (entry.place) journal.checkPlace(entry);
    journal.take(entry);
  } catch (failure) {
    entry.failure = failure instanceof Failure ? failure : new Failure("not-a-statement", String(failure));
    journal.fail(entry.place, entry.failure, claimedTag(journal, entry));
    entry.body = null;
  }
}

/** The tag that a record which does not verify claims, so that its luminaire shows no figures: a claim, nothing more. */
function claimedTag(journal, entry) {
  try {
    return entry.kind === "record" ? journal.tag(decodeCbor(entry.payload).get(1)) : undefined;
  } catch {
    return undefined;
  }
}
