// Part 6 of 6. The screen. Whatever a site wrote is put in as text alone, never as HTML.

const byId = (name) => document.getElementById(name);
const PAGE = {
  format: JSON.parse(byId("format").textContent),
  given: JSON.parse(byId("given").textContent),
  journal: null, luminaires: [], problem: null, done: false, canVerify: false, showAnyway: false, shown: 0,
};
const STEP = 200;

/** An element with a class, texts and other elements in it. */
function make(name, className, ...inside) {
  const element = document.createElement(name);
  if (className) element.className = className;
  element.append(...inside.filter((one) => one !== null && one !== undefined));
  return element;
}

const many = (number, one, more = `${one}s`) => `${number.toLocaleString("en")} ${number === 1 ? one : more}`;

// --- What is shown of a luminaire: nothing before everything held. ---

/** "verified", "failed", "unverified" (a browser without the means) or "waiting"; with the reason in words. */
function stateOf(luminaire) {
  const own = luminaire.failures[0];
  if (own) return { name: "failed", why: `${own.kind}: entry ${own.place}: ${own.why}` };
  if (PAGE.problem) return { name: "failed", why: `${PAGE.problem.kind}: ${PAGE.problem.message}` };
  if (!PAGE.done) return { name: "waiting", why: "It is still being verified." };
  if (!PAGE.canVerify) return { name: "unverified", why: "This browser cannot verify signatures." };
  return { name: "verified", why: "" };
}

const mayShow = (state) => state.name === "verified" || (state.name === "unverified" && PAGE.showAnyway);

/** Sums up all luminaires once everything was read. */
function gather(journal) {
  PAGE.journal = journal;
  const lines = journal.newest.line;
  for (const luminaire of journal.luminaires.values()) {
    luminaire.now = standing(journal, luminaire, PAGE.given.judged[luminaire.tag]);
    const record = luminaire.now.newest?.body;
    luminaire.addresses = record ? addressesOf(record, lines) : [];
    const gears = record?.gears.flatMap((gear) => [gear.model, gear.serial]) ?? [];
    luminaire.known = [luminaire.tag, record?.reference, record?.place, record?.line, record?.circuit, record?.fixture_type.code,
      ...luminaire.addresses, ...gears].filter(Boolean).join(" ").toLowerCase();
  }
  const order = new Intl.Collator("en", { numeric: true });
  const keysOf = ({ now: { newest }, addresses, tag }) => [newest?.body.line ?? "", addresses[0] ?? "", newest?.body.place ?? "", tag];
  // By line, address, place; those without one behind the others.
  const compared = ([one, other]) => !one || !other ? Boolean(other) - Boolean(one) : order.compare(one, other);
  PAGE.luminaires = [...journal.luminaires.values()].map((one) => [keysOf(one), one])
    .sort(([a], [b]) => a.map((key, index) => compared([key, b[index]])).find(Boolean) ?? 0).map(([, one]) => one);
  const choices = (id, values) => {
    const chosen = byId(id).value;
    byId(id).replaceChildren(new Option("all", ""), ...[...new Set(values.filter(Boolean))].sort(order.compare).map((value) => new Option(value, value)));
    byId(id).value = chosen;
  };
  choices("line", PAGE.luminaires.map((one) => one.now.newest?.body.line));
  choices("type", PAGE.luminaires.map((one) => one.now.newest?.body.fixture_type.code));
}

/** [class, words] of each mark that a luminaire bears. */
function marksOf(luminaire) {
  const state = stateOf(luminaire), { now } = luminaire, marks = [];
  if (state.name === "verified") marks.push(["good", "verified"]);
  else if (state.name === "waiting") marks.push(["", "being verified"]);
  else marks.push(["bad", "NOT VERIFIED"]);
  if (!now?.newest || state.name === "failed") return marks;
  if (now.conflict) marks.push(["bad", "IN CONFLICT"]);
  if (now.open.length || now.doubts.length) marks.push(["care", "PROVISIONAL"]);
  if (now.strays.length) marks.push(["care", "LABEL SEEN ELSEWHERE"]);
  if (now.retired) marks.push(["", "retired"]);
  if (now.emergency) marks.push(["", "emergency"]);
  return marks;
}

function isWanted(luminaire) {
  const record = luminaire.now?.newest?.body, { now } = luminaire, which = byId("which").value;
  if (byId("line").value && record?.line !== byId("line").value) return false;
  if (byId("type").value && record?.fixture_type.code !== byId("type").value) return false;
  const retired = Boolean(now?.retired && !now.conflict);
  if (which === "" && retired || which === "retired" && !retired || which === "emergency" && (!now?.emergency || retired)) return false;
  if (which === "open" && !(now?.newest && (now.conflict || now.open.length || now.doubts.length || now.strays.length))) return false;
  if (which === "failed" && ["verified", "waiting"].includes(stateOf(luminaire).name)) return false;
  return matches(byId("query").value, luminaire.tag, luminaire.known ?? "");
}

function listItem(luminaire) {
  const state = stateOf(luminaire), record = state.name === "failed" ? null : luminaire.now.newest?.body;
  const link = make("a", "", make("span", "tag", shownTag(luminaire.tag)), make("span", "", record?.reference ?? ""),
    make("span", "", record?.place ?? ""), make("span", "", record?.fixture_type.code ?? ""),
    make("span", "", mayShow(state) ? luminaire.addresses.join(", ") : ""),
    make("span", "marks", ...marksOf(luminaire).map(([kind, words]) => make("span", `mark ${kind}`, words))));
  link.href = `#${luminaire.tag}`;
  return make("li", "", link);
}

function showList(more = false) {
  const found = PAGE.luminaires.filter(isWanted);
  PAGE.shown = more ? PAGE.shown + STEP : STEP;
  const first = more ? PAGE.shown - STEP : 0, items = found.slice(first, PAGE.shown).map(listItem);
  if (more) byId("list").append(...items);
  else byId("list").replaceChildren(...items);
  const shown = Math.min(PAGE.shown, found.length);
  byId("count").textContent = `${many(found.length, "luminaire")} found` +
    (shown < found.length ? `, the first ${shown} shown` : "") + (PAGE.done ? "." : `; ${many(PAGE.luminaires.length, "luminaire")} read so far.`);
  byId("more").hidden = shown >= found.length;
  if (more && items.length) items[0].querySelector("a").focus();
}

// --- One luminaire. ---

function table(caption, rows, className = "") {
  const lines = rows.map(({ label, value, also, loud }) => {
    const head = make("th", "", label);
    head.scope = "row";
    return make("tr", loud ? "loud" : "", head, make("td", "", also ? `${value}, ${also}` : value));
  });
  return make("div", "scroll", make("table", className, caption ? make("caption", "", caption) : null, make("tbody", "", ...lines)));
}

function columns(headings, rows) {
  const heads = headings.map((text) => {
    const head = make("th", "", text);
    head.scope = "col";
    return head;
  });
  return make("div", "scroll", make("table", "", make("thead", "", make("tr", "", ...heads)),
    make("tbody", "", ...rows.map((row) => make("tr", "", ...row.map((cell) => make("td", "", cell)))))));
}

function settingsOf(entry, stamp) {
  const { body } = entry, line = PAGE.journal.newest.line.get(body.line)?.body;
  return body.gears.map((gear, index) => {
    const of = body.gears.length > 1 ? `Gear ${index + 1}: ${gear.duty}` : `Gear: ${gear.duty}`;
    const what = [["driver model", gear.model], ["serial number", gear.serial]].filter(([, value]) => value).map(([label, value]) => ({ label, value }));
    const read = { label: "readback", value: gear.readback_digest ? `kept elsewhere, digest ${hex(gear.readback_digest)}` : "none" };
    return table(`${of}${stamp}`, [...what, ...settingRows(body, gear, line), read]);
  });
}

const BASES = { stated: "from documents, not read from the driver", read: "read back from the driver", measured: "measured on site" };
const signedBy = (entry) => {
  const term = entry.signer ?? { code: "AUTH", roles: ["authority"] };
  return `${term.code} (${term.roles.join(", ")})`;
};

function cautionsFor(record) {
  const supplies = record.gears.filter((gear) => gear.duty !== "general" || gear.settings.emergency).map((gear) => gear.settings.emergency?.supply ?? "self-contained");
  return PAGE.format.cautions[supplies.includes("self-contained") ? "self-contained" : supplies[0] ?? "none"];
}

function warningsOf(luminaire) {
  const { now } = luminaire, said = [];
  if (now.conflict) said.push(["bad", "IN CONFLICT: two newest versions differ, so nobody knows what is true. Read the driver before anything is set."]);
  for (const label of now.strays) {
    const where = label.on_housing === false ? "It lay loose there." : "Two fittings may be taken for one another: look at both before you set a driver.";
    said.push(["care", `A label of this luminaire was seen at ${label.place}, where it does not belong. ${where}`]);
  }
  for (const doubt of now.doubts) said.push(["bad", `PROVISIONAL. ${doubt}. Compare the figures with the driver.`]);
  if (now.open.length) said.push(["care", `PROVISIONAL: a second signer has not accepted ${now.open.join(", ")}.`]);
  if (now.retired) said.push(["", "Retired: it is out of service for good."]);
  return said.map(([kind, text]) => make("p", `state ${kind}`, text));
}

function factsOf(luminaire, entry) {
  const { body } = entry, facts = [["place", body.place], ["drawing reference", body.reference], ["control line", body.line], ["circuit", body.circuit],
    ["fixture type", `${body.fixture_type.code}, rating revision ${body.fixture_type.revision}`], ["address", luminaire.addresses.join(", ")],
    ["version", `${body.version}, for ${body.reason}`], ["signed on", `${dayOf(body.time_s)} (the signer's word)`], ["signed by", signedBy(entry)],
    ["figures are", BASES[body.basis]], ["settings not stated", body.baseline === "reset-values" ? "are at their reset values" : "were not recorded"],
    ["change", body.change_class], ["note", body.note], ["open stops when signed", body.open_stops],
    ["taken over from", body.taken_from && `${shownTag(PAGE.journal.tag(body.taken_from.tag))} @ ${hex(body.taken_from.log_id)}, version ${body.taken_from.version}`],
    ["journal entry", String(entry.place)], ["digest", entry.digest]];
  return facts.filter(([, value]) => value).map(([label, value]) => ({ label, value }));
}

function ratingOf(entry) {
  const { fixture_type: named } = entry.body, held = PAGE.journal.ratings.get(hex(named.digest)), newest = PAGE.journal.newest.rating.get(named.code);
  if (!held) return [make("p", "state care", "The journal does not hold the rating of this type; compare with the maker's papers.")];
  const parts = [table(`${named.code} revision ${named.revision}, signed by ${signedBy(held)}`, rowsOf("Rating", held.body))];
  if (newest && newest !== held) {
    parts.unshift(make("p", "state care", `Revision ${newest.body.revision} of this rating is newer. Compare with that one too.`));
    parts.push(table(`${named.code} revision ${newest.body.revision}, the newest`, rowsOf("Rating", newest.body)));
  }
  return parts;
}

function labelsOf(luminaire) {
  const EVENTS = { "label-issue": "printed", "label-placed": "seen on its housing", "label-withdrawal": "withdrawn", "label-sighting": "seen elsewhere" };
  return columns(["day", "what", "copy", "where or why", "by"], luminaire.labels.map(({ entry, label }) => [dayOf(entry.body.time_s), EVENTS[entry.kind],
    String(label.copy ?? "not read"), label.place ?? entry.body.reason ?? entry.body.why ?? "", signedBy(entry)]));
}

function showDetail(tag) {
  const luminaire = PAGE.journal?.luminaires.get(tag), detail = byId("detail");
  const back = make("a", "back", "← all luminaires");
  back.href = "#";
  const title = make("h2", "", "Luminaire ", make("span", "tag", shownTag(tag)));
  if (!luminaire) {
    detail.replaceChildren(back, title, make("p", "state bad", PAGE.done ? "This pack holds no luminaire with this tag. Compare the tag with the label, character by character." : "Not read yet."));
    return;
  }
  const state = stateOf(luminaire), parts = [back, title];
  const stamp = state.name === "unverified" ? " — NOT VERIFIED" : "";
  if (state.name === "verified") {
    parts.push(make("p", "state good", `Verified, if ${PAGE.given.fingerprint} is the fingerprint on your paper: ${many(luminaire.records.length, "version")}, signed and unchanged, in a journal that is whole up to the checkpoint of this pack.`));
  } else {
    const rest = mayShow(state) ? "Nothing below is proved." : "No figures are shown.";
    parts.push(make("p", `state ${state.name === "waiting" ? "" : "bad"}`, `${state.name === "waiting" ? "" : "NOT VERIFIED. "}${state.why} ${rest}`));
  }
  if (mayShow(state) && luminaire.now.newest) {
    const { newest, heads } = luminaire.now;
    parts.push(...warningsOf(luminaire), table("", factsOf(luminaire, newest)), make("h3", "", "Before you begin"),
      make("ul", "cautions", ...cautionsFor(newest.body).map((text) => make("li", "", text))));
    parts.push(make("h3", "", `Settings${stamp}`));
    for (const head of luminaire.now.conflict ? heads : [newest]) {
      if (luminaire.now.conflict) parts.push(make("p", "state bad", `Version ${head.body.version} by ${signedBy(head)}, one of ${heads.length} that differ:`));
      parts.push(...settingsOf(head, stamp));
    }
    parts.push(make("h3", "", "Limits of the fixture type"), ...ratingOf(newest));
    parts.push(make("h3", "", "Versions"), columns(["version", "day", "for", "signed by", "digest"], luminaire.records.map((entry) => [String(entry.body.version),
      dayOf(entry.body.time_s), entry.body.reason, signedBy(entry), entry.digest.slice(0, 16)])));
    for (const entry of luminaire.records.filter((one) => !heads.includes(one))) {
      parts.push(make("details", "", make("summary", "", `Settings of version ${entry.body.version}, no longer valid`), ...settingsOf(entry, " — NO LONGER VALID")));
    }
    const approvals = luminaire.records.flatMap((entry) => entry.approvals.map((one) => [entry, one]));
    if (approvals.length) {
      parts.push(make("h3", "", "Accepted by a second signer"), columns(["version", "accepts", "because", "signed by", "day"], approvals.map(([entry, one]) => [String(entry.body.version),
        one.body.accepts, one.body.because, signedBy(one), dayOf(one.body.time_s)])));
    }
    if (luminaire.labels.length) parts.push(make("h3", "", "Labels"), labelsOf(luminaire));
  }
  detail.replaceChildren(...parts);
}

// --- The page's head and what it says of the whole. ---

function tellVerdict(text, kind) {
  byId("verdict").textContent = text;
  byId("verdict").className = kind;
}

function showAbout() {
  const { given, journal } = PAGE, list = (items) => make("ul", "", ...items.map((text) => make("li", "", text)));
  const parts = [make("h3", "", "To be kept"), list(given.retention)];
  if (given.cautions.length) parts.push(make("h3", "", "Cautions"), list(given.cautions));
  parts.push(make("h3", "", "Checkpoint"), make("pre", "mono", given.note));
  if (journal?.signers && PAGE.done && !PAGE.problem) {
    const terms = [...journal.signers.terms.values()].flat();
    parts.push(make("h3", "", `Signers${PAGE.canVerify ? "" : " — NOT VERIFIED"}`), columns(["code", "roles", "fingerprint", "from entry", "until"], terms.map((term) => [term.code, term.roles.join(", "),
      fingerprintOf(term.publicKey), String(term.from), term.to !== undefined ? `entry ${term.to}` : term.until !== undefined ? dayOf(term.until) : "still"])));
    for (const [logId, other] of journal.taken) parts.push(make("p", "", `Taken over: ${many(other.size, "entry", "entries")} of ${other.site} (${other.host}, log ${logId}).`));
  }
  byId("about-text").replaceChildren(...parts);
}

function tellResult() {
  const { journal, luminaires, problem, canVerify } = PAGE, states = luminaires.map((one) => stateOf(one).name);
  const verified = states.filter((name) => name === "verified").length, failed = states.filter((name) => name === "failed").length;
  const entries = journal.entries.length, failures = journal.failures;
  const kinds = [...new Set([...failures.map((one) => one.kind), ...(problem ? [problem.kind] : [])])];
  Object.assign(byId("result").dataset, { state: "done", luminaires: luminaires.length, verified, failed, entries, kinds: kinds.sort().join(" ") });
  byId("result").textContent = `Read ${many(entries, "signed statement")} of ${many(luminaires.length, "luminaire")}.`;
  if (!canVerify) {
    tellVerdict("NOTHING IS VERIFIED. This browser cannot check Ed25519 signatures. Open this file in a current browser, or verify it as the help says.", "bad");
    byId("unverified").hidden = false;
  } else if (problem) {
    tellVerdict(`NOT VERIFIED: ${many(failed, "luminaire")} of ${luminaires.length.toLocaleString("en")}, and no figures are shown. ${problem.kind}: ${problem.message} Ask the sender for the whole pack again.`, "bad");
  } else if (failures.length) {
    tellVerdict(`${many(failures.length, "entry", "entries")} did not verify, and ${many(failed, "luminaire")} of ${luminaires.length.toLocaleString("en")} show no figures. The others are verified.`, "bad");
  } else {
    tellVerdict(`Verified, if the fingerprint below is the one on your paper: all ${many(luminaires.length, "luminaire")}, by ${many(entries, "signed statement")}. None was changed, added or left out since the checkpoint of this pack.`, "good");
  }
  const told = failures.slice(0, 20).map((one) => `entry ${one.place}${one.tag ? `, which says that it is of ${shownTag(one.tag)}` : ""}: ${one.kind}: ${one.why}`);
  if (failures.length > 20) told.push(`${failures.length - 20} more`);
  byId("failures").replaceChildren(...told.map((text) => make("li", "", text)));
  byId("failures").hidden = !told.length;
}

function showAddress() {
  const tag = foldedTag(decodeURIComponent(location.hash.slice(1)));
  byId("list-view").hidden = Boolean(tag);
  byId("detail").hidden = !tag;
  if (tag) {
    showDetail(tag);
    byId("detail").focus({ preventScroll: true });
    byId("detail").scrollIntoView?.();
  }
}

/** The first entry names the authority; the paper says whether it is the right one. */
function checkNames(genesis) {
  const { given } = PAGE;
  if (hex(genesis.log_id) !== given.log_id) throw new Failure("other-vault", "The first entry is of another vault than the one this page names.");
  if (fingerprintOf(genesis.authority_key) !== given.fingerprint) throw new Failure("other-authority", "The first entry names another authority than this page does.");
}

async function begin() {
  const { given, format } = PAGE;
  byId("made").textContent = `Luminaires and the settings of their drivers. Handover pack of ${given.made_on}, ${given.host}.`;
  byId("fingerprint").textContent = given.fingerprint;
  byId("compare").textContent = "Fingerprint of the authority. It must be the same as on the paper that came with the building. If it is not, believe nothing here.";
  PAGE.canVerify = await browserCanVerify();
  const statements = byId("statements").textContent.split("\n").map((line) => fromBase64(line) ?? new Uint8Array(0));
  byId("progress").hidden = false;
  byId("progress").max = statements.length;
  tellVerdict("Verifying …", "");
  let lastShown = 0;
  const { journal, leaves } = await walkJournal(format, statements, PAGE.canVerify, (done, soFar) => {
    byId("progress").value = done;
    tellVerdict(`${PAGE.canVerify ? "Verifying" : "Reading"}: ${done.toLocaleString("en")} of ${many(statements.length, "statement")} …`, "");
    if (performance.now() - lastShown > 1500) {
      gather(soFar);
      showList();
      lastShown = performance.now();
    }
  });
  try {
    if (!journal.signers) throw new Failure("bad-chain", "There is no good first entry.");
    checkNames(journal.signers.genesis);
    if (PAGE.canVerify) await checkCheckpoint(given.note, journal.signers.genesis, leaves);
  } catch (problem) {
    PAGE.problem = problem instanceof Failure ? problem : new Failure("bad-note", String(problem));
  }
  gather(journal);
  PAGE.done = true;
  byId("progress").hidden = true;
  tellResult();
  showAbout();
  showList();
  showAddress();
}

function toggle(button, panel) {
  byId(button).addEventListener("click", () => {
    byId(panel).hidden = !byId(panel).hidden;
    byId(button).setAttribute("aria-expanded", String(!byId(panel).hidden));
  });
}

toggle("help-button", "help");
toggle("about-button", "about");
byId("print-button").addEventListener("click", () => print());
byId("more").addEventListener("click", () => showList(true));
byId("search").addEventListener("submit", (event) => event.preventDefault());
byId("search").addEventListener("input", () => showList());
byId("show-anyway").addEventListener("click", () => {
  PAGE.showAnyway = true;
  byId("unverified").hidden = true;
  showAddress();
});
addEventListener("hashchange", showAddress);
addEventListener("keydown", (event) => {
  if (event.key === "Escape" && location.hash) location.hash = "";
  if (event.key === "/" && !/INPUT|SELECT/.test(document.activeElement?.tagName)) {
    event.preventDefault();
    location.hash = "";
    byId("query").focus();
  }
});
showAddress();
begin();
