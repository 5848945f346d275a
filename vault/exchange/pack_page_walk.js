// Part 4 of 6. Tree and checkpoint, and the walk over all entries.

// --- Checkpoints (FORMAT section 7). ---

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
