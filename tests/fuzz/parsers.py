"""Every parser that meets bytes or texts from outside, with good input to be spoiled and what acceptance promises."""

from __future__ import annotations

import io
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

import make
from workbooks import PARTS, by_hand

from labels.media_file import read_media
from labels.ndef import external_type_of, message, parse_message
from labels.run_log import read_log
from vault.db.address import parse_address
from vault.domain.findings import Verdict
from vault.domain.rating import Rating
from vault.domain.site import Circuit, Line
from vault.domain.tag import from_bytes, parse_tag, to_bytes
from vault.domain.terms import Item, ItemTerms
from vault.exchange.catalogue import read_circuits, read_drivers, read_lines, read_types
from vault.exchange.cover_cache import read_answers, write_answers
from vault.exchange.hours_file import read_hours_file
from vault.exchange.pack_layout import list_text, read_list
from vault.exchange.pack_reading import statements_in
from vault.exchange.readback_file import read_readback
from vault.exchange.schedule import read_schedule
from vault.exchange.sheet_xml import parse_sheet
from vault.exchange.stock_file import read_stock_file
from vault.exchange.stock_known import Known
from vault.exchange.tables import read_tables
from vault.spares.coverage_answers import ANSWER_BYTES, rules_version
from vault.spares.needs import Answer
from vault.trust import cbor, cose, statements
from vault.trust.appointment import endorsement_text, parse_endorsement, parse_request, request_text
from vault.trust.capsule import capsule_text, link, parse_text
from vault.trust.cosign import parse_verifiers
from vault.trust.estate import parse_estate_text, verify_estate
from vault.trust.grant_code import grant_text, parse_grant_text
from vault.trust.keys import paper_to_seed, public_bytes, read_key_file, seed_to_paper
from vault.trust.mapping import from_plain_cbor, to_plain_cbor
from vault.trust.note import checkpoint_text, open_note, parse_checkpoint, parse_verifier_key
from vault.trust.place_link import parse_place
from vault.trust.statements import Kind
from vault.trust.trustlist import dump, load
from vault.trust.verify import verify_genesis

DEMO = Path(make.HERE).parents[1] / "demo"
CHAIN = make.chain()
HOST_NAME, KEY = "lx.example.eu", public_bytes(make.key("checkpoint"))
NO_RATINGS: dict[str, Rating] = {}
NO_LINES: dict[str, Line] = {}
NO_CIRCUITS: dict[str, Circuit] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Parser:
    """read: takes bytes and gives back what the format says an accepted input is, or None where it promises nothing.

    good: inputs that are accepted.
    """

    read: Callable[[bytes], bytes | None]
    good: tuple[bytes, ...]


def _text(data: bytes) -> str:
    return data.decode("utf-8", "surrogateescape")


def _file(reader: Callable[[Path], Any], suffix: str) -> Callable[[bytes], None]:
    def read(data: bytes) -> None:
        with tempfile.NamedTemporaryFile(suffix=suffix) as file:
            file.write(data)
            file.flush()
            reader(Path(file.name))

    return read


def _schedule(path: Path) -> Any:
    return read_schedule(path, ratings=NO_RATINGS, lines=NO_LINES, circuits=NO_CIRCUITS, mapping=None)


def _record(data: bytes) -> bytes:
    envelope = cose.open_envelope(data)
    kind = Kind(envelope.kind) if envelope.kind in Kind._value2member_map_ else Kind.RECORD
    body = from_plain_cbor(statements.BODY[kind], cbor.decode(envelope.payload))
    again = cbor.encode(to_plain_cbor(body))
    # The envelope around it is held by its own encoding: what is left of it must be the same bytes.
    return data if again == envelope.payload else again


def _capsule(data: bytes) -> bytes | None:
    held = parse_text(_text(data))
    if held.signed_bytes is None or held.host is None:
        return None
    again = capsule_text(link(held.host, held.tag), held.signed_bytes)
    # Reading forgives the case of the link and letters that look alike, as people type them; of the digits it forgives nothing.
    alike = parse_text(again) == held and again.partition("#")[2] == _text(data).strip().partition("#")[2]
    return data if alike else again.encode()


def _link(data: bytes) -> bytes | None:
    held = parse_text(_text(data))
    if held.host is None:  # a tag alone, as people type it
        return None
    again = link(held.host, held.tag)
    return data if held.signed_bytes is not None or parse_text(again) == held else again.encode()


def _checkpoint(data: bytes) -> bytes | None:
    text = checkpoint_text(parse_checkpoint(_text(data)))
    return text.encode()


def _run_log(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "run.log").write_bytes(data)
        read_log(Path(folder))


def _stock(path: Path) -> Any:
    return read_stock_file(path, known=KNOWN)


def _answers(data: bytes) -> bytes | None:
    """Remembered answers, spoiled wherever: what is taken is written back alike; nothing else is taken at all."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "cover.json"
        path.write_bytes(data)
        held = read_answers(path)
        if not held:
            return None
        write_answers(path, held)
        return path.read_bytes()


def _answers_of_a_good_digest(data: bytes) -> None:
    """Remembered answers whose digest somebody made to fit."""
    _answers(MAGIC + sha256(rules_version() + data).hexdigest().encode() + b"\n" + data)


def _written_answers() -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "cover.json"
        fits = Answer(verdict=Verdict.FITS, rule="", limit="")
        wrong = Answer(verdict=Verdict.DOES_NOT_FIT, rule="window", limit="700 mA is more than 500 mA.")
        write_answers(path, {bytes([number] * ANSWER_BYTES): (fits, wrong)[number % 2] for number in range(3)})
        return path.read_bytes()


def _lines(name: str, count: int) -> bytes:
    return b"".join((DEMO / name).read_bytes().splitlines(keepends=True)[:count])


def _entry(name: str) -> bytes:
    """The first entry of a file of the catalogue."""
    text = (DEMO / name).read_text(encoding="utf-8")
    heading = "[[" + text.split("[[", 2)[1].split("]]")[0] + "]]"
    return (heading + text.split(heading)[1]).encode()


def _workbook() -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        return by_hand(Path(folder) / "a.xlsx").read_bytes()


def _list_of_sheets(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        read_tables(by_hand(Path(folder) / "a.xlsx", workbook=data))


GOOD = make.good()
MAGIC = b"gearkeep cover 1\n"
KNOWN = Known(drivers=[one.model for one in read_drivers(DEMO / "drivers.toml")],
              terms={"BATT-4": ItemTerms(model="BATT-4", item=Item.BATTERY, price_cents=100, currency="EUR")})
ANSWERS = _written_answers()
_TAG_LINK = link(HOST_NAME, make.TAG)
_STICKER = external_type_of(_TAG_LINK)

PARSERS: dict[str, Parser] = {
    "genesis": Parser(read=lambda data: verify_genesis(data).signed_bytes, good=(CHAIN["genesis"],)),
    "statement": Parser(read=_record, good=tuple(CHAIN.values())),
    "capsule": Parser(read=_capsule, good=(GOOD["capsule"].encode(), capsule_text(_TAG_LINK, CHAIN["record"]).encode())),
    "link": Parser(read=_link, good=(_TAG_LINK.encode(),)),
    "tag": Parser(read=lambda data: from_bytes(to_bytes(parse_tag(_text(data)))).encode() and None, good=(make.TAG.encode(),)),
    "grant code": Parser(read=lambda data: grant_text(parse_grant_text(_text(data))).encode() and None, good=()),
    "place link": Parser(read=lambda data: parse_place(_text(data)) and None, good=(f"HTTPS://{make.HOST}/B/MAIN/A1".encode(),)),
    "note": Parser(read=lambda data: open_note(_text(data), f"{HOST_NAME}/{make.LOG_ID.hex()}", KEY).encode() and None,
                   good=(GOOD["checkpoint"].encode(),)),
    "checkpoint": Parser(read=_checkpoint, good=(GOOD["checkpoint"].rpartition("\n\n")[0].encode() + b"\n",)),
    "verifier key": Parser(read=lambda data: parse_verifier_key(_text(data)) and None, good=()),
    "list of signers": Parser(read=lambda data: load(_text(data)) and None, good=(
        dump([(0, CHAIN["genesis"]), (1, CHAIN["grant-installer"])], 2, None).encode(),)),
    "key on paper": Parser(read=lambda data: paper_to_seed(_text(data)) and None,
                           good=(seed_to_paper(bytes(range(32))).encode(),)),
    "key file": Parser(read=_file(lambda path: read_key_file(path, b"x"), ".key"), good=()),
    "estate": Parser(read=lambda data: verify_estate(data, public_bytes(make.key("estate"))) and data,
                     good=(bytes.fromhex(GOOD["estate"]),)),
    "estate file": Parser(read=lambda data: parse_estate_text(_text(data)) and None, good=()),
    "request": Parser(read=lambda data: request_text(parse_request(_text(data))).encode() and None,
                      good=(GOOD["request"].encode(),)),
    "endorsement": Parser(read=lambda data: endorsement_text(parse_endorsement(_text(data))).encode() and None,
                          good=(GOOD["endorsement"].encode(),)),
    "co-signers": Parser(read=lambda data: parse_verifiers(_text(data)) and None, good=()),
    "address": Parser(read=lambda data: parse_address(_text(data)) and None,
                      good=(b"postgresql+psycopg://a:b@127.0.0.1:5432/lights?site=baths", b"vault.db")),
    "schedule": Parser(read=_file(_schedule, ".csv"), good=(_lines("schedule.csv", 8),)),
    "types": Parser(read=_file(read_types, ".toml"), good=(_entry("types.toml"),)),
    "drivers": Parser(read=_file(read_drivers, ".toml"), good=(_entry("drivers.toml"),)),
    "circuits": Parser(read=_file(read_circuits, ".toml"), good=(_entry("circuits.toml"),)),
    "lines": Parser(read=_file(read_lines, ".toml"), good=(_entry("lines.toml"),)),
    "readback": Parser(read=_file(read_readback, ".json"), good=(
        (DEMO / "readback_good.json").read_bytes(),
        b'{"tag":"7K3D9QXW6","version":3,"gears":{"general":{"bank0.serial":"1","control.groups":null}},"asks":{}}')),
    "readback table": Parser(read=_file(read_readback, ".csv"), good=(
        b'gear,field,asks,value\r\n,tag,,7K3D9QXW6\r\n,version,,3\r\ngeneral,channels.1.current_ma,,0.7 A\r\n'
        b'general,control.scenes,,0:254\r\ngeneral,bus.types,,"[6, 1]"\r\n',)),
    "table": Parser(read=_file(read_tables, ".csv"), good=(
        'Leuchte;Raum;I\r\nL-1;Büro;0,7\r\nL-2;"a;b";1,05\r\n'.encode("cp1252"),)),
    "workbook": Parser(read=_file(read_tables, ".xlsx"), good=(_workbook(),)),
    "list of sheets": Parser(read=_list_of_sheets, good=(PARTS["xl/workbook.xml"].encode(),)),
    "sheet of a workbook": Parser(read=lambda data: parse_sheet(io.BytesIO(data), "a sheet", lambda _row, _cells: None) and None,
                                  good=(PARTS["xl/worksheets/sheet1.xml"].encode(),)),
    "journal of a pack": Parser(read=lambda data: b"".join(statements_in(data)), good=(b"".join(list(CHAIN.values())[:4]),)),
    "list of a pack": Parser(read=lambda data: read_list(_text(data)) and None, good=(
        list_text("lx.example.eu/00", {"FORMAT.md": b"bytes", "journal.cborseq": b"more"}).encode(),)),
    "stock": Parser(read=_file(_stock, ".csv"), good=(_lines("stock.csv", 12),)),
    "terms": Parser(read=_file(_stock, ".csv"), good=(
        _lines("terms.csv", 12), b"model,item,price,last_order,replaced_by,count_days\nBATT-4,other,none,-,CC-40-700,30\n")),
    "stock statement": Parser(read=_record, good=tuple(make.stock_log().values())),
    "burning hours": Parser(read=_file(read_hours_file, ".csv"), good=(b"circuit,type,hours\nL1/4,,8760\n,T1,2500\n,,4000\n",)),
    "burning hours in TOML": Parser(read=_file(read_hours_file, ".toml"), good=(
        b'default = 4000\n[circuit]\n"L1/4" = 8760\n[type]\nT1 = 2500\n',)),
    "remembered answers": Parser(read=_answers, good=(ANSWERS,)),
    "remembered answers of a good digest": Parser(read=_answers_of_a_good_digest, good=(ANSWERS.split(b"\n", 2)[2],)),
    "media": Parser(read=_file(read_media, ".toml"), good=(b'[[medium]]\nname = "70x45"\nwidth_mm = 70\nheight_mm = 45\n',)),
    "sticker": Parser(read=lambda data: parse_message(data, _STICKER) and None, good=(
        message(_TAG_LINK, _STICKER, CHAIN["record"]),)),
    "run log": Parser(read=_run_log, good=()),
}


def spoiled(data: bytes, choose: Callable[[int], int]) -> bytes:
    """Good bytes with one to three mistakes: a bit turned, bytes left out, put in, doubled, cut off, or set to an edge.

    choose(n) gives a number under n.
    """
    made = bytearray(data)
    for _ in range(1 + choose(3)):
        at = choose(len(made) + 1)
        act = choose(6)
        if act == 0 and at < len(made):
            made[at] ^= 1 << choose(8)
        elif act == 1:
            del made[at : at + 1 + choose(4)]
        elif act == 2:
            made[at:at] = bytes(choose(256) for _ in range(1 + choose(3)))
        elif act == 3:
            made[at:at] = made[at : at + choose(16)]
        elif act == 4:
            del made[at:]
        elif at < len(made):
            made[at] = (0, 0x7F, 0x80, 0xFF)[choose(4)]
    return bytes(made)
