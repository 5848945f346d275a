// Part 3 of 6. Signers, and what may follow what.

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
