// Part 2 of 6. Payloads by the format's own table.

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
