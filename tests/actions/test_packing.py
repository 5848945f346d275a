"""The handover pack: what lies in it, that it is one state of the vault, and that nothing is left out or given away."""

from __future__ import annotations

import csv
import io
import re
import subprocess
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from small_pack import adopt_in, build_ours, copy_of_ours, import_into
from small_vault import CATALOGUE, DEMO, NOW_S, SITE, SmallVault, build, copy_of, rows_of
from stored import tamper

from vault.actions.desk import Desk
from vault.actions.handover import hand_over
from vault.actions.keeping import audit
from vault.actions.pack import Packed, write_pack
from vault.actions.setup import add_signer, found_vault, load_catalogue
from vault.db import queries
from vault.db.audit import origin
from vault.db.session import SIGNER_KINDS
from vault.domain.cautions import CAUTIONS
from vault.domain.record import Basis, ChangeClass, Reason, Record
from vault.domain.tag import shown, to_bytes
from vault.errors import GearkeepError, UsageProblem
from vault.exchange import pack_layout
from vault.exchange.pack_retention import USUAL
from vault.trust.grant_code import parse_grant_text
from vault.trust.keys import fingerprint, public_bytes, read_key_file
from vault.trust.note import open_note, parse_checkpoint
from vault.trust.statements import Approval, Kind, LabelSighting, Role, SeenLabel
from vault.trust.trustlist import load

NAME = "Ann Example"


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A pack of a vault in which something of every kind is not settled."""

    small: SmallVault
    packed: Packed
    text: str

    def read(self, name: str) -> bytes:
        return (self.packed.folder / name).read_bytes()

    def table(self) -> dict[str, dict[str, str]]:
        rows = csv.DictReader(io.StringIO(self.read(pack_layout.TABLE).decode("utf-8-sig")))
        return {row["reference"]: row for row in rows}


def _next(small: SmallVault, reference: str, **changes: object) -> Record:
    seen = small.seen(reference)
    defaults = {"version": 2, "predecessors": seen.statement.digest[:16], "reason": Reason.SETTINGS_CHANGED}
    return replace(seen.record, **{**defaults, **changes})  # type: ignore[arg-type]


def _with_current(record: Record, current_ma: int) -> Record:
    gear = record.gears[0]
    channel = replace(gear.settings.channels[0], current_ma=current_ma)
    return replace(record, gears=(replace(gear, settings=replace(gear.settings, channels=(channel,))),))


def _with_address(record: Record, short_address: int) -> Record:
    gear = record.gears[0]
    assert gear.settings.control is not None
    control = replace(gear.settings.control, short_address=short_address)
    return replace(record, gears=(replace(gear, settings=replace(gear.settings, control=control)),))


def _unsettle(small: SmallVault) -> None:
    """CH-001 provisional, CH-002 accepted by a second signer, CH-003 in conflict, CH-004 frozen, CH-006 retired, PH-002 at the
    address of PH-001.
    """
    small.sign("I01", Kind.RECORD, _next(small, "CH-001", open_stops="readback-differs"))
    accepted = small.sign("I01", Kind.RECORD, _next(small, "CH-002", open_stops="readback-differs", basis=Basis.MEASURED))
    small.sign("P01", Kind.APPROVAL, Approval(
        record_digest=accepted.digest, accepts="readback-differs", change_class=ChangeClass.MODIFICATION,
        because="dimmed zone", time_s=NOW_S))
    small.fork(_with_current(_next(small, "CH-003"), 600), _with_current(_next(small, "CH-003"), 650))
    small.sign("T01", Kind.LABEL_SIGHTING, LabelSighting(time_s=NOW_S, labels=(
        SeenLabel(tag=to_bytes(small.tags["CH-004"]), place="Plant room, wall", on_housing=True),)))
    small.sign("I01", Kind.RECORD, _next(small, "CH-006", reason=Reason.RETIRED, note="wall taken down"))
    small.sign("I01", Kind.RECORD, _next(small, "CH-007", place='=HYPERLINK("x")'))
    small.sign("I01", Kind.RECORD, _with_address(_next(small, "PH-002"), 0))
    with small.open().writing() as session:
        queries.set_signer_name(session, "I01", NAME)


def _pack(small: SmallVault, name: str, **options: object) -> Packed:
    return write_pack(small.desk(), small.folder / name, **{"retention": USUAL, **options})  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Made]:
    """One pack for all that only look at it."""
    small = copy_of(build(tmp_path_factory.getbasetemp() / "small-vault"), tmp_path_factory.mktemp("packed"))
    _unsettle(small)
    packed = _pack(small, "pack", zip_path=small.folder / "pack.zip")
    done = subprocess.run(["pdftotext", "-raw", str(packed.folder / pack_layout.PAPER), "-"], capture_output=True, check=True)
    yield Made(small=small, packed=packed, text=done.stdout.decode())
    small.close()


@pytest.mark.parametrize("said", [
    f"Lighting handover\n\n{SITE}", "page 1 of ", "Contents", "As-built luminaire and addressing schedule", "Line D1",
    "Addresses on line D1 are numbered from 0, as on the bus.", "Addresses on line D2 are numbered from 1",
    "Groups and scenes", "Levels used: level 254 (100 %)", "Settings by fixture type", "Type T1: Linear surface luminaire, 1.2 m",
    "Emergency lighting", "a function test every month, a test over the full rated duration every year",
    "EN 50172:2004 7.2, as quoted", "function every 7", "Spares", "GEN-50-1050", "Findings accepted, and by whom",
    "P01, approver", "dimmed zone", "Luminaires that are not settled", "Out of service for good", "wall taken down", "Cautions",
    "How long to keep it", "for the life of the installation", "Common practice, no source", "Who signed, and who may sign",
    "The checkpoint", "short address 1 on line D2 stands for PH-001 and PH-002",
    "1 luminaire is PROVISIONAL", "1 luminaire is IN CONFLICT", "1 luminaire is FROZEN", "PROVISIONAL v2 I01",
])
def test_the_paper_says(made: Made, said: str) -> None:
    """Every section, how addresses are numbered, who accepted what, and what is not settled."""
    assert " ".join(said.split()) in " ".join(made.text.split())


def test_every_luminaire_stands_on_the_paper_by_reference_and_tag(made: Made) -> None:
    """Those that are not settled and the one that is gone among them."""
    assert [name for name, tag in made.small.tags.items() if name not in made.text or shown(tag) not in made.text] == []


def test_both_versions_of_a_conflict_are_shown(made: Made) -> None:
    """Nobody knows which is true."""
    rows = [line for line in made.text.splitlines() if "CH-003" in line and " mA" in line]
    assert set(re.findall(r"([0-9]+) mA", " ".join(rows))) == {"600", "650"}
    assert "IN CONFLICT v2 I01" in " ".join(made.text.split()) and "IN CONFLICT v2 T01" in " ".join(made.text.split())


def test_the_paper_alone_is_a_witness(made: Made) -> None:
    """Size and whole root of both journals in words, as signed in the files, and the authority's fingerprint."""
    plain = "".join(made.text.split())
    for name in (pack_layout.MAIN_CHECKPOINT, pack_layout.STOCK_CHECKPOINT):
        said = parse_checkpoint(made.read(name).decode().partition("\n\n")[0] + "\n")
        assert f",root{said.root.hex()}" in plain
    assert fingerprint(public_bytes(made.small.keys["authority"])).replace(" ", "") in plain


def test_the_codes_of_the_paper_are_checkpoints_and_signers(made: Made) -> None:
    """A picture of its last page is a checkpoint for an audit; the page before it holds every statement about signers."""
    with pypdfium2.PdfDocument(made.read(pack_layout.PAPER)) as document:
        pictures = [document[len(document) - back].render(scale=200 / 72).to_pil() for back in (1, 2)]
    photo = made.small.folder / "photo.png"
    pictures[0].save(photo)
    assert audit(made.small.open(), [photo]).faults == ()
    codes = [parse_grant_text(one.text) for one in zxingcpp.read_barcodes(pictures[1])]
    with made.small.open().reading() as session:
        wanted = queries.signed_of_kinds(session, SIGNER_KINDS)
    assert sorted((code.place, code.signed_bytes) for code in codes) == wanted


@pytest.mark.parametrize("caution", [one.text for one in CAUTIONS])
def test_every_caution_is_printed(made: Made, caution: str) -> None:
    """In full."""
    assert " ".join(caution.split()) in " ".join(made.text.split())


def test_the_list_is_signed_and_names_every_other_file_by_its_digest(made: Made) -> None:
    """By the checkpoint key, under the name of the main journal."""
    with made.small.open().reading() as session:
        genesis = session.genesis
    name, listed = pack_layout.read_list(open_note(made.read(pack_layout.LIST).decode(), origin(genesis, 0),
                                                   genesis.checkpoint_key))
    files = {path.name: path.read_bytes() for path in made.packed.folder.iterdir() if path.name != pack_layout.LIST}
    assert name == origin(genesis, 0)
    assert {file: (one.digest, one.size) for file, one in listed.items()} == {
        file: (sha256(data).digest(), len(data)) for file, data in files.items()}


def test_the_zip_file_is_the_folder_under_its_own_name(made: Made) -> None:
    """The same bytes, sorted, with the one time that says nothing."""
    assert made.packed.zip_path is not None
    with zipfile.ZipFile(made.packed.zip_path) as packed:
        held = {one.filename: packed.read(one) for one in packed.infolist()}
        times = {one.date_time for one in packed.infolist()}
    assert held == {f"pack/{path.name}": path.read_bytes() for path in made.packed.folder.iterdir()}
    assert (list(held), times) == (sorted(held), {(1980, 1, 1, 0, 0, 0)})


def test_the_journals_are_every_signed_statement_in_order(made: Made) -> None:
    """Nothing before, between or behind them; the checkpoint is over exactly those."""
    with made.small.open().reading() as session:
        signed = [b"".join(session.statement(seq, log).signed_bytes for seq in range(session.size(log))) for log in (0, 1)]
        size, root = session.size(), session.root()
    assert [made.read(pack_layout.MAIN_JOURNAL), made.read(pack_layout.STOCK_JOURNAL)] == signed
    kept = load(made.read(pack_layout.SIGNERS).decode())
    said = parse_checkpoint(made.read(pack_layout.MAIN_CHECKPOINT).decode().partition("\n\n")[0] + "\n")
    assert (said.size, said.root, kept.size) == (size, root, size)


def test_no_name_of_a_person_is_in_any_file(made: Made) -> None:
    """The side table holds one; the pack does not, the ZIP file's contents among it."""
    with made.small.open().reading() as session:
        assert queries.signer_names(session) == {"I01": NAME}
    assert [path.name for path in made.packed.folder.iterdir() if NAME.encode() in path.read_bytes()] == []
    assert NAME not in made.text


def test_the_table_marks_what_is_not_settled(made: Made) -> None:
    """In columns of its own; a luminaire that is gone is not in it, a cell that would run is not left to."""
    table = made.table()
    assert {name: row["as_built_state"] for name, row in table.items() if row["as_built_state"]} == {
        "CH-001": "provisional", "CH-003": "conflict", "CH-004": "frozen"}
    assert (table["CH-001"]["as_built_provisional"], table["CH-002"]["as_built_accepted"]) == ("yes", "readback-differs by P01")
    assert "CH-006" not in table
    assert table["CH-007"]["place"] == '\'=HYPERLINK("x")'


def test_the_read_me_names_every_file_and_what_is_not_settled(made: Made) -> None:
    """With the means to verify them."""
    said = made.read(pack_layout.READ_ME).decode()
    assert [path.name for path in made.packed.folder.iterdir() if f"  {path.name} " not in said] == []
    assert "Beware: 1 luminaire is FROZEN" in said and "sha256sum --check" in said and "lx.example.eu/" in said


def test_the_pack_says_what_it_holds(made: Made) -> None:
    """Counts of luminaires and states."""
    assert (made.packed.luminaires, made.packed.retired) == (18, 1)
    assert made.packed.states == {"conflict": 1, "frozen": 1, "provisional": 1}


def test_the_table_can_be_handed_over_again(small: SmallVault, tmp_path: Path) -> None:
    """A fresh vault with the same catalogue takes every row and gets equal drivers."""
    packed = _pack(small, "pack")
    founded = found_vault(str(tmp_path / "fresh.db"), host="other.example.eu", site="Other", keys_folder=tmp_path / "other",
                          passphrase=b"wet socks 13", recovery_needed=1, recovery_count=1, now_s=NOW_S)
    authority = Desk(vault=founded.vault, key_source=lambda: read_key_file(founded.authority_file, b"wet socks 13"),
                     now_s=lambda: NOW_S)
    installer = Desk(vault=founded.vault, key_source=lambda: small.keys["I01"], now_s=lambda: NOW_S)
    add_signer(authority, code="I01", roles=frozenset({Role.INSTALLER}), public_key=public_bytes(small.keys["I01"]), name=None)
    for kind, name in CATALOGUE:
        load_catalogue(authority, kind, DEMO / f"{name}.toml")
    done = hand_over(installer, packed.folder / pack_layout.TABLE)
    with founded.vault.reading() as session:
        taken = {row.reference: queries.record_at(session, row).body for row in queries.head_rows(session)}
    founded.vault.close()
    assert done.rejected == ()
    assert {name: (body.place, body.line, body.circuit, body.gears) for name, body in taken.items()} == {
        name: (body.place, body.line, body.circuit, body.gears)
        for name in small.tags for body in [small.seen(name).record]}


def test_two_packs_of_one_state_made_on_one_day_are_the_same_bytes(made: Made) -> None:
    """Later on that day as well; on another day the paper, the page, the READ-ME and the list say another date."""
    desk, second = made.small.desk(), made.small.folder / "second" / "pack"
    desk.now_s = lambda: NOW_S + 60
    second.parent.mkdir()
    write_pack(desk, second, zip_path=second.with_suffix(".zip"), retention=USUAL)
    assert [name for name in made.packed.files if made.read(name) != (second / name).read_bytes()] == []
    assert second.with_suffix(".zip").read_bytes() == (made.small.folder / "pack.zip").read_bytes()


def test_a_vault_that_does_not_verify_makes_no_pack(small: SmallVault) -> None:
    """One row of the index was changed behind the program's back; no folder, no file beside it, no checkpoint."""
    before = sorted(small.folder.iterdir())
    tamper(small.address, "UPDATE record SET place = 'elsewhere' WHERE reference = 'CH-001'")
    with pytest.raises(GearkeepError) as caught:
        _pack(small, "pack")
    assert caught.value.kind == "does-not-verify" and "CH-001" not in caught.value.what
    with small.open().reading() as session:
        assert list(queries.checkpoints(session, 0)) == []
    small.close()
    assert [path for path in sorted(small.folder.iterdir()) if path not in before and ".db" not in path.name] == []


def test_a_vault_without_a_luminaire_makes_a_pack(tmp_path: Path) -> None:
    """Its catalogue and signers are signed as well; a stock that is empty has no files."""
    key = Ed25519PrivateKey.generate()
    founded = found_vault(str(tmp_path / "new.db"), host="other.example.eu", site="Other", keys_folder=tmp_path / "keys",
                          passphrase=b"wet socks 13", recovery_needed=1, recovery_count=1, now_s=NOW_S)
    desk = Desk(vault=founded.vault, key_source=lambda: key, now_s=lambda: NOW_S,
                checkpoint_key_source=lambda: read_key_file(founded.checkpoint_file, b"wet socks 13"))
    packed = write_pack(desk, tmp_path / "pack", retention=USUAL)
    founded.vault.close()
    assert (packed.luminaires, packed.statements) == (0, 1)
    assert pack_layout.STOCK_JOURNAL not in packed.files and set(pack_layout.NEEDED) <= set(packed.files)


@pytest.mark.parametrize("taken", ["pack", "pack.zip"])
def test_nothing_is_replaced(small: SmallVault, taken: str) -> None:
    """Neither a folder nor a file that is there."""
    (small.folder / taken).write_text("mine", encoding="utf-8")
    with pytest.raises(UsageProblem) as caught:
        _pack(small, "pack", zip_path=small.folder / "pack.zip")
    assert caught.value.kind == "exists" and (small.folder / taken).read_text(encoding="utf-8") == "mine"


def test_without_the_checkpoint_key_there_is_no_pack(small: SmallVault) -> None:
    """It signs the list."""
    desk = small.desk()
    desk.checkpoint_key_source = None
    with pytest.raises(UsageProblem) as caught:
        write_pack(desk, small.folder / "pack", retention=USUAL)
    assert caught.value.kind == "no-key" and not (small.folder / "pack").exists()


def test_rows_of_the_demo_are_all_there(made: Made) -> None:
    """Each row that was handed over and is in service, by its reference."""
    assert set(made.table()) == {row.split(",")[0] for row in rows_of(*made.small.tags)} - {"CH-006"}


def test_what_was_taken_over_is_told(made: Made, tmp_path: Path) -> None:
    """Another vault imports the pack and adopts one luminaire: its own pack has that one, and says what it keeps besides."""
    ours = copy_of_ours(build_ours(tmp_path / "built"), tmp_path / "ours")
    assert made.packed.zip_path is not None
    import_into(ours, made.packed.zip_path, made.small)
    adopt_in(ours, made.small.tags["CH-009"])
    packed = _pack(ours, "pack")
    ours.close()
    text = subprocess.run(["pdftotext", "-raw", str(packed.folder / pack_layout.PAPER), "-"], capture_output=True, check=True)
    row, = csv.DictReader(io.StringIO((packed.folder / pack_layout.TABLE).read_text(encoding="utf-8-sig")))
    assert packed.luminaires == 1 and f"{SITE} LX.EXAMPLE.EU" in text.stdout.decode()
    assert row["as_built_adopted_from"].partition("@")[0] == made.small.tags["CH-009"] != row["as_built_tag"]
