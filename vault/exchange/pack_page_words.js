// Part 5 of 6. Words: figures with their units, settings as the trade says them, a luminaire as it stands.

const LEAVE = "leave as the driver has it";

/** A decimal text of value / 10^shift with least to most places, a half rounded to even. */
function decimal(value, shift, least, most) {
  const step = 10 ** Math.max(0, shift - most), half = value % step, below = Math.floor(value / step);
  const units = half * 2 > step || (half * 2 === step && below % 2) ? below + 1 : below;
  const places = Math.min(shift, most), digits = String(units).padStart(places + 1, "0");
  const behind = (places ? digits.slice(-places) : "").replace(/0+$/, "").padEnd(least, "0");
  return (places ? digits.slice(0, -places) : digits) + (behind ? `.${behind}` : "");
}

const tenths = (value) => value.toFixed(1);
const dayOf = (seconds) => seconds < 8e12 ? new Date(seconds * 1000).toISOString().slice(0, 10) : `${seconds} s`;

/** "level 229 (50.5 %)": logarithmic 10^((n-1)/(253/3) - 1), IEC 62386-102 9.3; linear n/254, IEC 62386-207. */
function levelWords(level, curve) {
  if (level === 255) return "MASK, level 255 (stays as it is)";
  if (level === 0) return "level 0 (off)";
  const output = curve === "linear" ? level * 100 / 254 : 10 ** ((level - 1) * 3 / 253 - 1);
  return `level ${level} (${decimal(Math.round(output * 10), 1, 0, 1)} %${curve === undefined ? " on the logarithmic curve" : ""})`;
}

/** Fades by IEC 62386-102 Tables 4 to 7. */
const FADES = {
  "fade-time": (raw) => raw ? `${tenths(0.5 * 2 ** (raw / 2))} s (fade time ${raw})` : "as the extended fade time says (fade time 0)",
  "fade-rate": (raw) => `${tenths(506 / 2 ** (raw / 2))} steps a second (fade rate ${raw})`,
  "extended-fade": (raw) => {
    const seconds = ((raw & 15) + 1) * [0, 0.1, 1, 10, 60][raw >> 4];
    return `${seconds ? `${tenths(seconds)} s` : "none"} (extended fade time ${raw})`;
  },
};

/** One value in words. context: { line, control }, for addresses and levels. */
function valueWords(field, value, context = {}) {
  if (value === NOT_SET) return LEAVE;
  if (value instanceof Uint8Array) return field.said === "tag" ? shownTag(tagOf(value, PAGE.format.alphabet)) : hex(value).replace(/(.{4})(?=.)/g, "$1 ");
  if (typeof value === "boolean") return value ? "yes" : "no";
  const curve = typeof context.control?.curve === "string" ? context.control.curve : undefined;
  if (field.said === "scenes") {
    return value.map((level, scene) => level === 255 ? "" : `${scene}: ${levelWords(level, curve)}`).filter(Boolean).join(", ") || "none";
  }
  if (field.shape === "choices") return value.join(", ") || "none";
  if (Array.isArray(value)) {
    const rows = field.fill === undefined ? value : value.map((row, index) => row === field.fill ? "" : `${index}: ${row}`).filter(Boolean);
    return rows.map((row) => Array.isArray(row) ? row.join(": ") : String(row)).join(", ") || "none";
  }
  if (typeof value !== "number") return String(value);
  if (field.said in FADES) return FADES[field.said](value);
  switch (field.said) {
    case "level":
      return levelWords(value, curve);
    case "groups":
      return Array.from({ length: 16 }, (_, group) => group).filter((group) => value >> group & 1).join(" and ") || "none";
    case "address": {
      const from = context.line?.addresses_from ?? 0;
      return `${value + from} (numbered from ${from}${from ? `; ${value} on the bus` : context.line ? "" : ", as on the bus"})`;
    }
    case "central-address":
      return `${value} (numbered from 1)${context.control?.central_circuit ? ` on circuit ${context.control.central_circuit}` : ""}`;
    case "day":
      return dayOf(value);
    default:
  }
  const places = { mA: [0, 0, 1, "mA"], mV: [3, 1, 2, "V"], mW: [3, 1, 2, "W"], "‰": [1, 0, 1, "%"], "µA": [3, 1, 3, "mA"] }[field.unit];
  if (places) return `${decimal(value, ...places.slice(0, 3))} ${places[3]}`;
  return `${value}${field.unit ? ` ${field.unit}` : ""}`;
}

// What a technician must not miss.
const LOUD = ["current_ma", "voltage_mv", "short_address", "central_address", "mode"];

/** Every stated field of a body: [{ label, value, also, loud }], parts one level into the other with their labels before. */
function rowsOf(className, body, context = {}, before = "") {
  const rows = [];
  for (const field of PAGE.format.classes[className].fields) {
    const value = body[field.name];
    if (value === undefined) continue;
    if (field.shape === "part" || field.shape === "parts") {
      const items = field.shape === "part" ? [value] : value;
      for (const [index, item] of items.entries()) {
        const deeper = field.kind === "Control" ? { ...context, control: item } : context;
        const ours = ["Control", "Emergency", "Presence", "Settings", "ColourControl"].includes(field.kind) ? "" :
          `${field.label.replace(/s$/, "")}${items.length > 1 ? ` ${index + 1}` : ""} `;
        rows.push(...rowsOf(field.kind, item, deeper, before + (field.kind === "Channel" && items.length === 1 ? "" : ours)));
      }
    } else if (field.shape === "names") {
      for (const [name, held] of value) rows.push({ label: `${before}extra ${name}`, value: String(held) });
    } else {
      const also = field.said === "mirek" && typeof value === "number" ? `about ${Math.round(1e6 / value)} K` : "";
      rows.push({ label: before + field.label, value: valueWords(field, value, context), also, loud: LOUD.includes(field.name) });
    }
  }
  return rows;
}

/** FORMAT section 5, baseline 1: what a DALI control leaves out is at the reset values of IEC 62386-102. */
function resetRows(control) {
  const missing = Object.entries(PAGE.format.reset_values).filter(([name]) => control[name] === undefined);
  const fields = PAGE.format.classes.Control.fields;
  const filled = { ...control, ...Object.fromEntries(missing) };
  return missing.map(([name, value]) => {
    const field = fields.find((one) => one.name === name);
    return { label: field.label, value: `${valueWords(field, value, { control: filled })}, reset value, not stated` };
  });
}

function settingRows(record, gear, line) {
  const rows = rowsOf("Settings", gear.settings, { line });
  const controls = [gear.settings.control, ...gear.settings.channels.map((channel) => channel.control)];
  for (const control of controls) {
    if (control?.protocol === "dali" && record.baseline === "reset-values") rows.push(...resetRows(control));
  }
  return rows;
}

// --- A luminaire as it stands (FORMAT section 6). ---

const plainText = (value) => JSON.stringify(value, (_, held) => held instanceof Uint8Array ? hex(held) : held === NOT_SET ? "not set" : held);

/** Sums up what the journal says of one luminaire. judged: names of stops that were open when the pack was made, unsigned. */
function standing(journal, luminaire, judged = []) {
  const doubtOf = (entry) => journal.signers.doubt(entry.keyId, entry.place, journal.digests);
  const named = new Set(luminaire.records.flatMap((entry) => predecessorsOf(entry.body)));
  const heads = luminaire.records.filter((entry) => !named.has(entry.digest.slice(0, 32)));
  const newest = heads.reduce((best, entry) => !best || entry.body.version >= best.body.version ? entry : best, null);
  if (!newest) return { newest: null, heads, open: [], doubts: [], strays: [] };
  const told = (entry) => plainText([entry.body.line ?? null, entry.body.gears.map((gear) => [gear.duty, gear.settings]), entry.body.reason === "retired"]);
  const accepts = (entry) => entry.approvals.filter((one) => !doubtOf(one)).flatMap((one) => one.body.accepts.split(" "));
  const settledBy = (doubtful, entry) => entry.body.version >= doubtful.body.version && accepts(entry).includes("doubtful-signer") ||
    entry.body.version > doubtful.body.version && entry.place > doubtful.place && entry.body.basis !== "stated" &&
    entry.body.reason !== "driver-swap" && !doubtOf(entry);
  const doubts = luminaire.records.filter((entry) => doubtOf(entry) && !luminaire.records.some((other) => settledBy(entry, other)))
    .map((entry) => `doubtful-signer: version ${entry.body.version} was signed by ${doubtOf(entry)}`);
  for (const [kind, said, name] of [["rating", "rating of ", newest.body.fixture_type.code], ["line", "line ", newest.body.line],
    ["circuit", "circuit ", newest.body.circuit]]) {
    const held = journal.newest[kind].get(name);
    if (held && doubtOf(held)) doubts.push(`doubtful-signer: the ${said}${name} was signed by ${doubtOf(held)}`);
  }
  const stated = (newest.body.open_stops ?? "").split(" ").filter(Boolean);
  const accepted = accepts(newest);
  return {
    newest, heads, doubts, conflict: heads.length > 1 && new Set(heads.map(told)).size > 1, retired: newest.body.reason === "retired",
    open: [...new Set([...stated, ...judged])].filter((name) => !accepted.includes(name)), strays: straysOf(luminaire, newest.body),
    emergency: newest.body.gears.some((gear) => gear.duty !== "general" || gear.settings.emergency),
  };
}

/** Labels that were seen where they do not belong and that nobody has settled since. */
function straysOf(luminaire, record) {
  const same = (one, other) => one.toLowerCase().split(/\s+/).join(" ") === other.toLowerCase().split(/\s+/).join(" ");
  let open = [];
  for (const { entry, label } of luminaire.labels) {
    if (entry.kind === "label-sighting") {
      open = [...open.filter((one) => one.copy !== label.copy || !same(one.place, label.place)), label];
    } else if (entry.kind === "label-issue") {
      if (entry.body.why === "replacement") open = open.filter((one) => one.copy !== undefined);
    } else {
      open = open.filter((one) => one.copy !== label.copy);
    }
  }
  return open.filter((one) => !same(one.place, record.place) || (one.type_code !== undefined && one.type_code !== record.fixture_type.code));
}

/** "L1/23" for each address of a record, as the site writes it. */
function addressesOf(record, lines) {
  const found = [];
  for (const { settings } of record.gears) {
    for (const control of [settings.control, ...settings.channels.map((channel) => channel.control)]) {
      if (Number.isInteger(control?.short_address)) {
        found.push(`${record.line ?? "?"}/${control.short_address + (lines.get(record.line)?.body.addresses_from ?? 0)}`);
      }
      if (Number.isInteger(control?.central_address)) found.push(`${control.central_circuit ?? "?"}/${control.central_address}`);
    }
  }
  return found;
}

/** Whether all words of a search stand in what a luminaire is known by; tags as they are read from a label. */
function matches(query, tag, known) {
  const words = query.toLowerCase().split(/\s+/).filter(Boolean);
  const whole = foldedTag(query);
  return (whole.length >= 3 && tag.includes(whole)) ||
    words.every((word) => known.includes(word) || (word.length >= 3 && tag.includes(foldedTag(word))));
}
