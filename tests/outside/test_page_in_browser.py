"""The pack's page in a browser that is not ours, without a network: what it verifies, what it refuses, what it says."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from offline_browser import OfflineBrowser
from small_pack import authority_of, journal_of, pack_files_of
from small_vault import HOST, NOW_S, SITE, SmallVault, build, copy_of

from vault.domain.record import ChangeClass, Reason, Record
from vault.domain.tag import shown, to_bytes
from vault.domain.wording import setting_words
from vault.exchange.pack_layout import MAIN_CHECKPOINT
from vault.exchange.pack_page import PageInput, pack_page
from vault.trust.cose import digest
from vault.trust.keys import key_id, public_bytes
from vault.trust.statements import Approval, Kind, LabelSighting, SeenLabel, Withdrawal
from vault.trust.verify import sign, verify_genesis

VECTORS = Path(__file__).parents[1] / "vectors"
CHAIN = [one["signed"] for one in json.loads((VECTORS / "good.json").read_text(encoding="utf-8"))["statements"]
         if one["name"] != "stock-movement"]
BROKEN = [one for one in json.loads((VECTORS / "bad.json").read_text(encoding="utf-8")) if "signed" in one]
# Walks hexadecimal statements as the page walks its own; gives [place, class] of what failed.
WALK = """(async (entries) => {
  const bytes = (text) => Uint8Array.from(text.match(/../g) ?? [], (pair) => parseInt(pair, 16));
  const { journal } = await walkJournal(PAGE.format, entries.map(bytes), true, () => {});
  return journal.failures.map(({ place, kind }) => [place, kind]);
})"""
# A place that would run as a script if it were ever taken for HTML; 40 characters are allowed.
HOSTILE = "</script><img src=x onerror=alert(1)>"
Shown = Callable[..., dict[str, str]]


@pytest.fixture(scope="module")
def vault(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SmallVault]:
    """The small vault with one luminaire moved to a hostile place."""
    made = copy_of(build(tmp_path_factory.getbasetemp() / "small-vault"), tmp_path_factory.mktemp("page-vault"))
    seen = made.seen("CH-002")
    made.sign("I01", Kind.RECORD, replace(seen.record, version=2, predecessors=seen.statement.digest[:16], reason=Reason.MOVED,
                                          place=HOSTILE))
    yield made
    made.close()


@pytest.fixture(scope="module")
def entries(vault: SmallVault) -> list[bytes]:
    """Signed bytes of the whole main log."""
    return journal_of(vault)


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OfflineBrowser]:
    """One browser for all pages."""
    made = OfflineBrowser(tmp_path_factory.mktemp("browser"))
    yield made
    made.close()


def page_of(vault: SmallVault, entries: Sequence[bytes], over: Sequence[bytes], key: Ed25519PrivateKey | None = None) -> bytes:
    """The page of some entries. over: those that the checkpoint saw. key: what signs it instead of the vault's own."""
    signed = replace(vault, keys={**vault.keys, "checkpoint": key or vault.keys["checkpoint"]})
    return pack_page(PageInput(
        site=SITE, host=HOST, log_id=verify_genesis(entries[0]).body.log_id, made_on="2030-03-17",
        authority_fingerprint=authority_of(vault), checkpoint_note=pack_files_of(signed, over)[MAIN_CHECKPOINT].decode(),
        statements=entries, retention=("This pack: for the life of the installation",)))


@pytest.fixture(scope="module")
def good(vault: SmallVault, entries: list[bytes], browser: OfflineBrowser,
         tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """The summary of a good pack's page, which stays open for the tests that come first here."""
    path = tmp_path_factory.mktemp("good") / "index.html"
    path.write_bytes(page_of(vault, entries, entries))
    return browser.open(path)


@pytest.fixture
def opened(vault: SmallVault, browser: OfflineBrowser, tmp_path: Path) -> Shown:
    """Opens a page of some entries; gives its own summary."""
    def show(entries: Sequence[bytes], *, over: Sequence[bytes] | None = None, key: Ed25519PrivateKey | None = None,
             **how: str) -> dict[str, str]:
        path = tmp_path / "index.html"
        path.write_bytes(page_of(vault, entries, entries if over is None else over, key))
        return browser.open(path, **how)
    return show


def detail(browser: OfflineBrowser, tag: str) -> str:
    """What the page shows of a luminaire."""
    browser.value(f"(location.hash = '{tag}', new Promise((go) => setTimeout(go, 50)))")
    text: str = browser.value("document.getElementById('detail').innerText")
    return text


def flipped(entries: list[bytes], vault: SmallVault) -> list[bytes]:
    """One bit of one record turned over, within its payload."""
    at = entries.index(vault.seen("CH-001").statement.signed_bytes)
    spoiled = bytearray(entries[at])
    spoiled[len(spoiled) // 2] ^= 1
    return [*entries[:at], bytes(spoiled), *entries[at + 1:]]


def by_a_stranger(vault: SmallVault) -> bytes:
    """A next version of a luminaire by a key that nobody granted a role."""
    seen = vault.seen("CH-001")
    body = replace(seen.record, version=2, predecessors=seen.statement.digest[:16], reason=Reason.CORRECTION)
    stranger = Ed25519PrivateKey.from_private_bytes(bytes(32))
    return sign(Kind.RECORD, body, stranger, log_id=verify_genesis(journal_of(vault)[0]).body.log_id)


def test_a_good_pack_verifies_whole(good: dict[str, str], browser: OfflineBrowser, vault: SmallVault) -> None:
    """As many luminaires and entries as the vault itself holds, nothing fetched, nothing on the console."""
    assert good == {"state": "done", "luminaires": str(len(vault.tags)), "verified": str(len(vault.tags)), "failed": "0",
                    "entries": str(vault.sizes()[0]), "kinds": ""}
    assert browser.value("document.getElementById('fingerprint').textContent") == authority_of(vault)
    assert [url.rpartition("/")[2] for url in browser.requested] == ["index.html"] and browser.errors == []
    assert browser.value("document.images.length + document.querySelectorAll('[src], link, iframe').length") == 0


@pytest.mark.usefixtures("good")
def test_every_setting_reads_as_on_the_other_screens(browser: OfflineBrowser, vault: SmallVault) -> None:
    """Every label and value of every gear is word for word what the commands and papers say."""
    found = browser.value(
        "PAGE.luminaires.map(({ tag, now: { newest: { body } } }) => [tag, body.gears.map((gear) => "
        "rowsOf('Settings', gear.settings, { line: PAGE.journal.newest.line.get(body.line)?.body })"
        ".map(({ label, value }) => [label.toLowerCase(), value]))])")
    assert dict(found) == {tag: told(vault, reference) for reference, tag in vault.tags.items()}


def told(vault: SmallVault, reference: str) -> list[list[list[Any]]]:
    """(label, value) of each gear's settings in words."""
    seen = vault.seen(reference)
    return [[[label.lower(), value] for label, value in setting_words(gear.settings, seen.line)] for gear in seen.record.gears]


@pytest.mark.usefixtures("good")
def test_the_chain_of_worked_examples_verifies(browser: OfflineBrowser) -> None:
    """Every kind of statement of vault/FORMAT.md is accepted in its place."""
    assert browser.value(f"{WALK}({json.dumps(CHAIN)})") == []


@pytest.mark.usefixtures("good")
def test_every_broken_statement_names_its_failure(browser: OfflineBrowser) -> None:
    """The committed broken statements fail with the committed classes, in the place behind the second version or as said."""
    walks = [[*CHAIN[:one.get("behind", 9)], one["signed"]] for one in BROKEN]
    found = browser.value(f"Promise.all({json.dumps(walks)}.map({WALK}))")
    assert {one["name"]: failures for one, failures in zip(BROKEN, found, strict=True)} == \
        {one["name"]: [[one.get("behind", 9), one["failure"]]] for one in BROKEN}


@pytest.mark.usefixtures("good")
def test_a_luminaire_is_found_and_shown(browser: OfflineBrowser, vault: SmallVault) -> None:
    """A tag as somebody types it finds it, its page shows figures with units, cautions and its signer; Escape goes back."""
    tag = vault.tags["CH-007"]
    browser.value(f"(byId('query').value = '{shown(tag).lower().replace('0', 'o').replace('1', 'l')}', showList())")
    assert browser.value("[...document.querySelectorAll('#list a')].map((one) => one.hash)") == [f"#{tag}"]
    text = detail(browser, tag)
    assert text.index("Before you begin") < text.index("700 mA")
    assert {"Verified" in text, "I01 (installer)" in text, "6 (numbered from 0)" in text,
            "Limits of the fixture type" in text, "NOT VERIFIED" not in text} == {True}
    browser.value("dispatchEvent(new KeyboardEvent('keydown', { key: 'Escape' }))")
    assert browser.value("location.hash") == ""


@pytest.mark.usefixtures("good")
def test_what_a_site_wrote_is_text(browser: OfflineBrowser, vault: SmallVault) -> None:
    """A place that looks like HTML is shown as it stands and runs nothing, in the list and on its page."""
    browser.value("(byId('query').value = '', showList())")
    assert HOSTILE in browser.value("document.getElementById('list').innerText")
    assert HOSTILE in detail(browser, vault.tags["CH-002"])
    assert browser.value("document.images.length") == 0 and browser.errors == []


def test_a_byte_turned_over(opened: Shown, browser: OfflineBrowser, vault: SmallVault, entries: list[bytes]) -> None:
    """The entry is named with its class, the root is another one, and nobody's figures are shown."""
    summary = opened(flipped(entries, vault), over=entries)
    assert (summary["verified"], summary["failed"], summary["kinds"]) == ("0", str(len(vault.tags)), "bad-signature fork")
    assert_no_figures(browser, vault, "CH-001", "bad-signature")
    assert_no_figures(browser, vault, "CH-007", "fork")


def test_a_record_by_a_stranger(opened: Shown, browser: OfflineBrowser, vault: SmallVault, entries: list[bytes]) -> None:
    """In a journal that is whole otherwise, that luminaire alone shows no figures; the head counts it."""
    summary = opened([*entries, by_a_stranger(vault)])
    assert (summary["verified"], summary["failed"], summary["kinds"]) == (str(len(vault.tags) - 1), "1", "unknown-signer")
    assert "1 luminaire of" in browser.value("document.getElementById('verdict').textContent")
    assert_no_figures(browser, vault, "CH-001", "unknown-signer")


def test_an_entry_left_out(opened: Shown, browser: OfflineBrowser, vault: SmallVault, entries: list[bytes]) -> None:
    """The checkpoint saw one more."""
    at = entries.index(vault.seen("CH-001").statement.signed_bytes)
    summary = opened([*entries[:at], *entries[at + 1:]], over=entries)
    assert (summary["verified"], summary["kinds"]) == ("0", "rollback")
    assert_no_figures(browser, vault, "CH-007", "rollback")


def test_a_checkpoint_by_another_key(opened: Shown, browser: OfflineBrowser, vault: SmallVault, entries: list[bytes]) -> None:
    """Only the key that the first entry names may sign the checkpoint."""
    summary = opened(entries, key=Ed25519PrivateKey.from_private_bytes(bytes(32)))
    assert (summary["verified"], summary["kinds"]) == ("0", "unknown-signer")
    assert_no_figures(browser, vault, "CH-007", "unknown-signer")


def test_a_browser_that_cannot_verify(opened: Shown, browser: OfflineBrowser, vault: SmallVault, entries: list[bytes]) -> None:
    """It says so, counts nothing as verified, and shows figures only when asked to, marked."""
    summary = opened(entries, before="Object.defineProperty(globalThis, 'crypto', { value: {} })")
    assert (summary["verified"], summary["failed"], summary["kinds"]) == ("0", "0", "")
    assert "cannot check Ed25519" in browser.value("document.getElementById('verdict').textContent")
    assert_no_figures(browser, vault, "CH-007", "cannot verify")
    browser.value("byId('show-anyway').click()")
    text = detail(browser, vault.tags["CH-007"])
    assert "700 mA" in text and text.count("NOT VERIFIED") >= 2


@pytest.fixture
def unsettled(small: SmallVault) -> SmallVault:
    """A vault with one luminaire in each state that nobody may pass over, and one whose open stop was accepted."""
    small.fork(next_of(small, "CH-003", note="one"), next_of(small, "CH-003", line=None))
    small.sign("I01", Kind.RECORD, next_of(small, "CH-004", open_stops="window"))
    accepted = small.sign("I01", Kind.RECORD, next_of(small, "CH-006", open_stops="window"))
    small.sign("P01", Kind.APPROVAL, Approval(record_digest=accepted.digest, accepts="window", because="Measured on site",
                                              change_class=ChangeClass.MODIFICATION, time_s=NOW_S))
    seen_at = SeenLabel(tag=to_bytes(small.tags["CH-008"]), place="Workshop", on_housing=True)
    small.sign("T01", Kind.LABEL_SIGHTING, LabelSighting(time_s=NOW_S, labels=(seen_at,)))
    small.sign("I01", Kind.RECORD, next_of(small, "CO-001", reason=Reason.RETIRED))
    trusted = small.sizes()[0] - 1
    small.sign("T02", Kind.RECORD, next_of(small, "CH-009"))
    small.sign("authority", Kind.WITHDRAWAL, Withdrawal(
        key_id=key_id(public_bytes(small.keys["T02"])), time_s=NOW_S, reason="telephone stolen", trusted_until=trusted,
        trusted_digest=digest(journal_of(small)[trusted])[:8]))
    return small


def next_of(small: SmallVault, reference: str, **changed: Any) -> Record:
    """The next version of a luminaire, by default a correction."""
    seen = small.seen(reference)
    usual = {"version": 2, "predecessors": seen.statement.digest[:16], "reason": Reason.CORRECTION}
    return replace(seen.record, **usual | changed)


def test_what_is_not_settled_is_marked(browser: OfflineBrowser, unsettled: SmallVault, tmp_path: Path) -> None:
    """Conflicts, open stops, doubtful keys, stray labels, retirement, as section 6 of vault/FORMAT.md says; an approval lifts."""
    entries = journal_of(unsettled)
    (tmp_path / "index.html").write_bytes(page_of(unsettled, entries, entries))
    assert browser.open(tmp_path / "index.html")["kinds"] == ""
    found = dict(browser.value("PAGE.luminaires.map((one) => [one.tag, marksOf(one).map(([, words]) => words)])"))
    assert {reference: found[unsettled.tags[reference]] for reference in
            ("CH-003", "CH-004", "CH-006", "CH-007", "CH-008", "CH-009", "CO-001")} == {
        "CH-003": ["verified", "IN CONFLICT"], "CH-004": ["verified", "PROVISIONAL"], "CH-006": ["verified"],
        "CH-007": ["verified"], "CH-008": ["verified", "LABEL SEEN ELSEWHERE"],
        "CH-009": ["verified", "PROVISIONAL"], "CO-001": ["verified", "retired"]}
    assert "doubtful-signer" in detail(browser, unsettled.tags["CH-009"])
    assert "one of 2 that differ" in detail(browser, unsettled.tags["CH-003"])


def assert_no_figures(browser: OfflineBrowser, vault: SmallVault, reference: str, why: str) -> None:
    """The luminaire's page says why, and nothing of what its driver is set to."""
    text = detail(browser, vault.tags[reference])
    record: Record = vault.seen(reference).record
    assert why in text and "NOT VERIFIED" in text and " mA" not in text and record.place not in text
    assert to_bytes(vault.tags[reference]) == record.tag
