"""Make the worked examples again, byte for byte: python tests/vectors/make.py [--check].

Writes good.json (statements of every kind, a capsule, a link, a checkpoint), bad.json (each with the failure class
it must cause), and the tables and examples between the marks in vault/FORMAT.md. Every key is made from a fixed seed,
so nothing here protects anything.
"""

from __future__ import annotations

import json
import re
import sys
from dataclasses import replace
from enum import IntEnum
from hashlib import sha256
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from vault.domain import driver, rating, record, settings, site, stock, terms
from vault.domain.rating import essentials_of
from vault.domain.schema import specs, words
from vault.domain.settings import (
    NOT_SET,
    Channel,
    Control,
    Duty,
    Emergency,
    EmergencyMode,
    EmergencySupply,
    Gear,
    Output,
    Protocol,
    Settings,
)
from vault.domain.tag import tag_from_bits, to_bytes
from vault.trust import cbor, cose, estate, statements
from vault.trust.appointment import Request, endorse, endorsement_text, request_text
from vault.trust.capsule import capsule_text, link
from vault.trust.keys import key_id, public_bytes
from vault.trust.mapping import to_plain_cbor
from vault.trust.merkle import root
from vault.trust.note import Checkpoint, checkpoint_text, sign_note
from vault.trust.statements import Kind, Role
from vault.trust.takeover import TakeOver, origin_of
from vault.trust.verify import sign

HERE = Path(__file__).resolve().parent
FORMAT = HERE.parents[1] / "vault" / "FORMAT.md"
TIME = 1_790_000_000
UNTIL, LATE = TIME + 5 * 365 * 86_400, TIME + 6 * 365 * 86_400
LOG_ID, STOCK_LOG_ID = bytes(range(16)), bytes(range(16, 32))
HOST = "LX.EXAMPLE.EU"


def key(name: str) -> Ed25519PrivateKey:
    """The key whose seed is SHA-256 of "gearkeep vectors: NAME"."""
    return Ed25519PrivateKey.from_private_bytes(sha256(f"gearkeep vectors: {name}".encode()).digest())


TAG = next(tag for bits in range(0x1234567890, 0x1234567990) if (tag := tag_from_bits(bits)))
ADOPTED_TAG = next(tag for bits in range(0x2345678900, 0x2345678A00) if (tag := tag_from_bits(bits)))
OTHER_LOG_ID, OTHER_HOST = bytes(range(64, 80)), "LX.NEIGHBOUR.EU"

RATING = rating.Rating(
    code="T1", revision=1, title="Recessed downlight 28 W", protection_class=rating.ProtectionClass.CLASS_II, ta_c=35,
    touchable=True, power_max_mw=33_000,
    gears=(rating.GearRating(
        duty=Duty.GENERAL, output=Output.CONSTANT_CURRENT, isolation=rating.Isolation.SELV,
        mounting=rating.Mounting.INDEPENDENT, protocols=frozenset({Protocol.DALI, Protocol.NONE}),
        modules=(rating.Module(current_min_ma=200, current_max_ma=700, module_max_ma=800, voltage_low_mv=33_000,
                               voltage_high_mv=43_400, power_max_mw=30_000),)),))
DRIVER = driver.DriverModel(
    model="CC-40-A", revision=1, title="Generic 40 W driver", generic=True, output=Output.CONSTANT_CURRENT, channels=1,
    window=driver.Window(vertices=((200, 15_000), (1050, 15_000), (1050, 38_000), (740, 54_000), (200, 54_000)),
                         power_max_mw=40_000),
    current_min_ma=200, current_max_ma=1050, current_step_ma=25, tolerance_permille=50,
    means=(driver.Means(way=driver.Way.SWITCHES, holds=frozenset({driver.Holds.CURRENT}), weights=(1, 2, 4),
                        positions=((0, 350), (1, 500), (2, 700), (3, 1050))),))
GENERAL = Gear(
    duty=Duty.GENERAL, model="OR-28", serial="A1007",
    settings=Settings(output=Output.CONSTANT_CURRENT,
                      channels=(Channel(current_ma=700, voltage_min_mv=33_000, voltage_max_mv=43_400,
                                        power_max_mw=30_000),),
                      control=Control(protocol=Protocol.DALI, short_address=12, groups=0b1010, min_level=85,
                                      system_failure_level=254, fade_time=NOT_SET)))
EMERGENCY = Gear(
    duty=Duty.EMERGENCY_CONVERTER, model="EM-3",
    settings=Settings(output=Output.CONSTANT_CURRENT, channels=(Channel(current_ma=60),),
                      emergency=Emergency(mode=EmergencyMode.NON_MAINTAINED, supply=EmergencySupply.SELF_CONTAINED,
                                          rated_duration_min=180, function_test_days=7, duration_test_weeks=52)))


def chain() -> dict[str, bytes]:
    """One statement of every kind, in an order in which each is valid."""
    authority, installer, approver = key("authority"), key("installer"), key("approver")
    made: dict[str, bytes] = {}

    def add(name: str, kind: Kind, body: Any, signer: Ed25519PrivateKey, log_id: bytes = LOG_ID) -> bytes:
        made[name] = sign(kind, body, signer, log_id=log_id)
        return cose.digest(made[name])

    def grant(name: str, code: str, *roles: Role) -> None:
        body = statements.Grant(public_key=public_bytes(key(name)), roles=frozenset(roles), code=code, time_s=TIME)
        add(f"grant-{name}", Kind.GRANT, body, authority)

    add("genesis", Kind.GENESIS, statements.Genesis(
        log_id=LOG_ID, stock_log_id=STOCK_LOG_ID, authority_key=public_bytes(authority),
        checkpoint_key=public_bytes(key("checkpoint")), recovery_keys=public_bytes(key("recovery")), recovery_needed=1,
        host=HOST, site="Worked example", time_s=TIME), authority)
    grant("installer", "I01", Role.INSTALLER)
    grant("approver", "P01", Role.APPROVER, Role.STORES)
    rated = add("rating", Kind.RATING, RATING, authority)
    add("driver-model", Kind.DRIVER_MODEL, DRIVER, authority)
    add("circuit", Kind.CIRCUIT, site.Circuit(name="C1", revision=1, rated_current_ma=16_000, breaker=site.Breaker.B),
        installer)
    add("line", Kind.LINE, site.Line(name="L1", revision=1, kind=site.LineKind.DALI, addresses_from=0, gear_max=64),
        installer)
    first = record.Record(
        tag=to_bytes(TAG), version=1, fixture_type=record.TypeRef(code="T1", revision=1, digest=rated[:8]),
        essentials=essentials_of(RATING), time_s=TIME, reason=record.Reason.HANDOVER, basis=record.Basis.STATED,
        baseline=record.Baseline.NOT_RECORDED, place="Pool hall, bay 3", line="L1", circuit="C1", reference="D-007",
        gears=(GENERAL,))
    one = add("record", Kind.RECORD, first, installer)
    second = replace(first, version=2, predecessors=one[:16], reason=record.Reason.SETTINGS_CHANGED,
                     gears=(GENERAL, EMERGENCY), open_stops="emergency-not-rated")
    two = add("record-second-version", Kind.RECORD, second, installer)
    add("approval", Kind.APPROVAL, statements.Approval(
        record_digest=two, accepts="emergency-not-rated", change_class=record.ChangeClass.MODIFICATION,
        because="converter added by the maker's kit", time_s=TIME), approver)
    add("label-issue", Kind.LABEL_ISSUE, statements.LabelIssue(
        time_s=TIME, medium="60x40", labels=(statements.IssuedLabel(
            tag=to_bytes(TAG), record_digest=two[:8], copy=1, carries_settings=True),)), installer)
    copy = statements.LabelCopy(tag=to_bytes(TAG), copy=1)
    add("label-placed", Kind.LABEL_PLACED, statements.LabelPlaced(time_s=TIME, labels=(copy,)), installer)
    add("label-withdrawal", Kind.LABEL_WITHDRAWAL, statements.LabelWithdrawal(
        time_s=TIME, reason="housing replaced", labels=(copy,)), installer)
    add("withdrawal", Kind.WITHDRAWAL, statements.Withdrawal(
        key_id=cose.open_envelope(made["record"]).key_id, time_s=TIME, reason="left the site"), authority)
    add("stock-movement", Kind.STOCK_MOVEMENT, stock.Movement(
        act=stock.Act.RECEIPT, store="MAIN", time_s=TIME, main_size=len(made), lines=(
            stock.MovementLine(model="CC-40-A", quantity=4, bin="A3"),)), approver, STOCK_LOG_ID)
    # Behind the first edition's examples, whose bytes stay as they are.
    grant("technician", "T01", Role.TECHNICIAN)
    add("label-reprint", Kind.LABEL_ISSUE, statements.LabelIssue(
        time_s=TIME, medium="60x40", why=statements.IssueReason.REPRINT, labels=(statements.IssuedLabel(
            tag=to_bytes(TAG), record_digest=two[:8], copy=2, carries_settings=True),)), key("technician"))
    add("label-sighting", Kind.LABEL_SIGHTING, statements.LabelSighting(time_s=TIME, labels=(
        statements.SeenLabel(tag=to_bytes(TAG), place="Store room", copy=2, record_digest=two[:8]),
        statements.SeenLabel(tag=to_bytes(TAG), place="Workshop"))), key("technician"))
    add("recovery", Kind.RECOVERY, statements.Recovery(time_s=TIME, digests=two), authority)
    # Keys for decades: a grant that ends, a key that was in wrong hands, an authority that is replaced without its key.
    add("grant-until", Kind.GRANT, statements.Grant(
        public_key=public_bytes(key("temporary")), roles=frozenset({Role.INSTALLER}), code="I02", time_s=TIME,
        until_s=UNTIL), authority)
    placed = list(made).index("label-reprint") - 1  # the stock movement stands in the other log
    add("withdrawal-trusted-until", Kind.WITHDRAWAL, statements.Withdrawal(
        key_id=key_id(public_bytes(key("technician"))), time_s=TIME, reason="telephone stolen", trusted_until=placed,
        trusted_digest=cose.digest(made["label-reprint"])[:8]), authority)
    add("appointment", Kind.APPOINTMENT, appointment(), key("appointed"))
    add("grant-by-the-appointed", Kind.GRANT, statements.Grant(
        public_key=public_bytes(key("technician")), roles=frozenset({Role.TECHNICIAN}), code="T02", time_s=LATE),
        key("appointed"))
    add("label-sighting-on-housing", Kind.LABEL_SIGHTING, statements.LabelSighting(time_s=LATE, labels=(
        statements.SeenLabel(tag=to_bytes(TAG), place="Corridor, bay 2", type_code="T2", on_housing=True),
        statements.SeenLabel(tag=to_bytes(TAG), place="Drawer", copy=2, on_housing=False))), key("technician"))
    # Our authority vouches for another vault's log, and a luminaire of it becomes ours under a tag of ours.
    add("take-over", Kind.TAKE_OVER, take_over(), key("appointed"))
    add("record-adopted", Kind.RECORD, replace(
        first, tag=to_bytes(ADOPTED_TAG), time_s=LATE, taken_from=record.TakenFrom(
            log_id=OTHER_LOG_ID, tag=to_bytes(TAG), version=1, digest=cose.digest(other_chain()["record"])[:16])),
        key("technician"))
    return made


def stock_log() -> dict[str, bytes]:
    """The stock log behind its first movement, signed when the main log was whole: an order and what the store agreed about
    the item, its delivery with a count of batteries, a piece kept, a transfer to a van, a return that was checked, a scrap.
    """
    seen, signer = len(chain()) - 1, key("approver")

    def movement(act: stock.Act, *lines: stock.MovementLine, store: str = "MAIN", **said: Any) -> stock.Movement:
        return stock.Movement(act=act, store=store, time_s=TIME, main_size=seen, lines=lines, **said)

    def line(quantity: int, **said: Any) -> stock.MovementLine:
        return stock.MovementLine(model="CC-40-A", quantity=quantity, **said)

    tag, act = to_bytes(TAG), stock.Act
    bodies: dict[str, tuple[Kind, Any]] = {
        "supply-terms": (Kind.SUPPLY_TERMS, terms.SupplyTerms(time_s=TIME, main_size=seen, lines=(
            terms.ItemTerms(model="CC-40-A", item=terms.Item.DRIVER, supplier="Trade counter", price_cents=2450, currency="EUR",
                            lead_days=21, order_multiple=5, importance=terms.Importance.ESSENTIAL, last_order_day=22_000,
                            replaced_by="CC-40-B", count_every_days=180),
            terms.ItemTerms(model="BATT-4", item=terms.Item.BATTERY, importance=terms.Importance.VITAL, shelf_life_months=12)))),
        "stock-order": (Kind.STOCK_MOVEMENT, movement(
            act.ORDER, line(10), order="PO-7", due_day=20_750, supplier="Trade counter")),
        "stock-delivery": (Kind.STOCK_MOVEMENT, movement(
            act.RECEIPT, line(5, bin="A3"), order="PO-7", delivery="DN-31", supplier="Trade counter")),
        "stock-count": (Kind.STOCK_MOVEMENT, movement(
            act.COUNT, stock.MovementLine(model="BATT-4", quantity=8, bin="B1", made_day=20_600), reason="opening count")),
        "stock-reservation": (Kind.STOCK_MOVEMENT, movement(act.RESERVE, line(1, tag=tag))),
        "stock-transfer": (Kind.STOCK_MOVEMENT, movement(act.TRANSFER, line(2, bin="A3", to_bin="LEFT"), to_store="VAN-1")),
        "stock-issue": (Kind.STOCK_MOVEMENT, movement(act.ISSUE, line(1, bin="LEFT", serial="B2001", tag=tag), store="VAN-1")),
        "stock-return": (Kind.STOCK_MOVEMENT, movement(
            act.RETURN, line(1, bin="LEFT", condition=stock.Condition.NEEDS_RESET), store="VAN-1")),
        "stock-checked": (Kind.STOCK_MOVEMENT, movement(act.CHECKED, line(1, bin="LEFT"), store="VAN-1")),
        "stock-scrap": (Kind.STOCK_MOVEMENT, movement(
            act.SCRAP, line(1, bin="A3"), reason="water damage", stream=stock.Stream.ELECTRONICS)),
    }
    return {name: sign(kind, body, signer, log_id=STOCK_LOG_ID) for name, (kind, body) in bodies.items()}


def other_chain() -> dict[str, bytes]:
    """The main log of another vault, which has a luminaire of the same tag."""
    authority, installer = key("other authority"), key("other installer")
    rated = sign(Kind.RATING, RATING, authority, log_id=OTHER_LOG_ID)
    bodies: dict[str, tuple[Kind, Any, Ed25519PrivateKey]] = {
        "genesis": (Kind.GENESIS, statements.Genesis(
            log_id=OTHER_LOG_ID, stock_log_id=bytes(range(80, 96)), authority_key=public_bytes(authority),
            checkpoint_key=public_bytes(key("other checkpoint")), recovery_keys=public_bytes(key("other recovery")),
            recovery_needed=1, host=OTHER_HOST, site="Worked neighbour", time_s=TIME), authority),
        "grant-installer": (Kind.GRANT, statements.Grant(
            public_key=public_bytes(installer), roles=frozenset({Role.INSTALLER}), code="I01", time_s=TIME), authority),
        "rating": (Kind.RATING, RATING, authority),
        "record": (Kind.RECORD, record.Record(
            tag=to_bytes(TAG), version=1, time_s=TIME, reason=record.Reason.HANDOVER, basis=record.Basis.STATED,
            fixture_type=record.TypeRef(code="T1", revision=1, digest=cose.digest(rated)[:8]), essentials=essentials_of(RATING),
            baseline=record.Baseline.NOT_RECORDED, place="Stairs, landing 2", gears=(GENERAL,)), installer),
    }
    return {name: sign(kind, body, signer, log_id=OTHER_LOG_ID) for name, (kind, body, signer) in bodies.items()}


def _tree_root(entries: list[bytes]) -> bytes:
    def node(level: int, index: int) -> bytes:
        if level == 0:
            return cose.digest(entries[index])
        return sha256(b"\x01" + node(level - 1, 2 * index) + node(level - 1, 2 * index + 1)).digest()

    return root(len(entries), node)


def take_over(size: int = 4, **changes: Any) -> TakeOver:
    """Our authority vouches for the other vault's log."""
    origin = origin_of(OTHER_HOST, OTHER_LOG_ID)
    said = checkpoint_text(Checkpoint(origin=origin, size=size, root=_tree_root(list(other_chain().values()))))
    made = TakeOver(log_id=OTHER_LOG_ID, host=OTHER_HOST, site="Worked neighbour", time_s=LATE,
                    authority_key=public_bytes(key("other authority")),
                    checkpoint=sign_note(said, origin, key("other checkpoint")).encode())
    return replace(made, **changes)


def request(**changes: Any) -> Request:
    """What the recovery key of the examples is asked to endorse."""
    return replace(Request(log_id=LOG_ID, public_key=public_bytes(key("appointed")), code="AUTH2", number=1, time_s=LATE,
                           ends_others=True), **changes)


def appointment(asked: Request | None = None, by: str = "recovery", number: int = 1) -> statements.Appointment:
    """An appointment of what was asked, endorsed by one key as recovery key `number`."""
    asked = asked or request()
    return statements.Appointment(
        public_key=asked.public_key, code=asked.code, number=asked.number, time_s=asked.time_s,
        ends_others=asked.ends_others,
        endorsements=(statements.Endorsement(recovery_key=number, signature=endorse(asked, key(by)).signature),))


def estate_checkpoint() -> bytes:
    """The example of an estate: two vaults."""
    site_one = estate.SiteState(log_id=LOG_ID, main_size=14, main_root=sha256(b"main").digest(), stock_log_id=STOCK_LOG_ID,
                                stock_size=0, stock_root=sha256(b"").digest())
    site_two = replace(site_one, log_id=bytes(range(32, 48)), stock_log_id=bytes(range(48, 64)), stock_size=3,
                       stock_root=sha256(b"stock").digest())
    return estate.sign_estate("Worked estate", [site_one, site_two], key("estate"), time_s=TIME)


def checkpoint_size(names: list[str]) -> int:
    """How many of the main log's examples the checkpoint covers: those before the stock movement."""
    return names.index("stock-movement")


def good() -> dict[str, Any]:
    """The examples as JSON values."""
    made = chain()
    entries = list(made.values())[: checkpoint_size(list(made))]
    name = f"{HOST.lower()}/{LOG_ID.hex()}"
    note = sign_note(checkpoint_text(Checkpoint(origin=name, size=len(entries), root=_tree_root(entries))), name,
                     key("checkpoint"))
    tag_link = link(HOST, TAG)
    return {
        "log_id": LOG_ID.hex(), "stock_log_id": STOCK_LOG_ID.hex(), "tag": TAG, "tag_bytes": to_bytes(TAG).hex(),
        "public_keys": {n: public_bytes(key(n)).hex()
                        for n in ("authority", "checkpoint", "installer", "approver", "technician", "recovery", "temporary",
                                  "appointed", "estate")},
        "statements": [{"name": n, "signed": s.hex(), "digest": cose.digest(s).hex()} for n, s in made.items()],
        "link": tag_link, "capsule": capsule_text(tag_link, made["record"]), "checkpoint": note,
        "request": request_text(request()), "endorsement": endorsement_text(endorse(request(), key("recovery"))),
        "estate": estate_checkpoint().hex(),
        "other_log": [{"name": n, "signed": s.hex(), "digest": cose.digest(s).hex()} for n, s in other_chain().items()],
        "stock_log": [{"name": n, "signed": s.hex(), "digest": cose.digest(s).hex()} for n, s in stock_log().items()],
    }


def _resigned(payload: Any, kind: int = int(Kind.RECORD), log_id: bytes = LOG_ID, name: str = "installer") -> bytes:
    packed = payload if isinstance(payload, bytes) else cbor.encode(payload)
    return cose.sign_statement(kind, packed, key(name), cose.external_aad(1, log_id))


def bad() -> list[dict[str, Any]]:
    """Broken statements and label texts, each with the failure class that a reader must report."""
    made = chain()
    right = made["record"]
    parts = cose.split1(right)
    body = cbor.decode(parts.payload)
    body_second = cbor.decode(cose.split1(made["record-second-version"]).payload)

    def envelope(protected: bytes, payload: bytes, signature: bytes) -> bytes:
        return cbor.encode([protected, {}, payload, signature])

    def protected(**changes: Any) -> bytes:
        held = {1: -19, 4: parts.protected[4], -65537: int(Kind.RECORD)} | changes.pop("also", {})
        # Written by hand: the codec of the vault holds unsigned keys only.
        import cbor2

        return cbor2.dumps(dict(sorted(held.items(), key=lambda kv: cbor2.dumps(kv[0]))))

    last = len(right) - 1
    cases = [
        ("one bit of the signature changed", right[:last] + bytes([right[last] ^ 1]), "bad-signature"),
        ("one bit of the payload changed", right.replace(b"Pool", b"Pooh"), "bad-signature"),
        ("signed for another vault", _resigned(body, log_id=STOCK_LOG_ID), "bad-signature"),
        ("last byte missing", right[:-1], "truncated"),
        ("a byte behind the end", right + b"\x00", "not-deterministic"),
        ("not CBOR at all", b"\xff" * 40, "not-cbor"),
        ("no signature", envelope(parts.protected_bytes, parts.payload, b""), "unsigned"),
        ("a bare payload", parts.payload, "unsigned"),
        ("algorithm -8", envelope(protected(also={1: -8}), parts.payload, parts.signature), "wrong-algorithm"),
        ("a header that nobody knows", envelope(protected(also={99: 1}), parts.payload, parts.signature),
         "unknown-header"),
        ("kind 14", _resigned(body, kind=14), "unknown-kind"),
        ("a signer that was never granted", _resigned(body, name="stranger"), "unknown-signer"),
        ("a signer without the role", _resigned(body, name="approver"), "wrong-role"),
        ("keys out of order", _resigned(b"\xa2\x02\x01\x01\x40"), "bad-payload"),
        ("a key twice", _resigned(b"\xa2\x01\x01\x01\x01"), "bad-payload"),
        ("a number not in its shortest form", _resigned(b"\xa1\x01\x18\x01"), "bad-payload"),
        ("a floating-point number", _resigned(b"\xa1\x01\xf9\x3e\x00"), "bad-payload"),
        ("a field that the format does not have", _resigned({**body, 90: 1}), "bad-payload"),
        ("no tag", _resigned({k: v for k, v in body.items() if k != 1}), "bad-payload"),
        ("a current of nought", _resigned(_changed_current(body, 0)), "bad-payload"),
        ("version 1 with a predecessor", _resigned({**body, 3: b"\x00" * 16}), "bad-payload"),
        ("version 1 of a tag in use", _resigned({**body, 10: "Elsewhere"}), "tag-in-use"),
        ("a predecessor that is not there", _resigned({**body_second, 3: b"\x00" * 16}), "bad-chain"),
        ("a version left out", _resigned({**body_second, 2: 3}), "bad-chain"),
        ("a rating that is not there", _resigned({**body_second, 4: ["T1", 1, b"\x00" * 8]}), "bad-chain"),
        ("a label found of a tag that is not there", _resigned({1: TIME, 2: [[b"\x00" * 5, "Store room"]]}, kind=15),
         "bad-chain"),
        ("a label found whose copy was never issued", _resigned({1: TIME, 2: [[to_bytes(TAG), "Store room", 1]]}, kind=15),
         "bad-chain"),
        ("a recovery by an installer", _resigned({1: TIME, 2: cose.digest(right)}, kind=16), "wrong-role"),
        ("a recovery of a record that is not there", _resigned({1: TIME, 2: b"\x00" * 32}, kind=16, name="authority"),
         "bad-chain"),
        ("a recovery with half a digest", _resigned({1: TIME, 2: cose.digest(right) + b"\x00"}, kind=16, name="authority"),
         "bad-payload"),
    ]
    bytes_cases = [{"name": n, "signed": s.hex(), "failure": f} for n, s, f in cases]
    first = good()
    capsule = first["capsule"]
    return [
        *bytes_cases,
        {"name": "a web address of somebody else", "text": "https://example.com/", "failure": "foreign-link"},
        {"name": "a wrong character in the tag", "text": link(HOST, TAG).replace(TAG[:2], "ZZ"), "failure": "bad-tag"},
        {"name": "a letter among the digits", "text": capsule[:-1] + "X", "failure": "bad-digits"},
        {"name": "a nought before the digits", "text": capsule.replace("#", "#0"), "failure": "bad-digits"},
        {"name": "format version 2", "text": f"{first['link']}#{int.from_bytes(bytes([2]) + right, 'big')}",
         "failure": "future-version"},
        *bad_behind(),
    ]


def bad_behind() -> list[dict[str, Any]]:
    """Broken statements about keys. behind: how many good entries of the main log stand before them."""
    made = [name for name in chain() if name != "stock-movement"]
    start, late = 9, len(made)

    def appoint(asked: Request, by: str = "recovery", number: int = 1, signer: str = "appointed") -> bytes:
        body = appointment(asked, by, number)
        return _resigned(to_plain_cbor(body), kind=17, name=signer)

    def appoint_key(name: str) -> bytes:
        return appoint(request(public_key=public_bytes(key(name))), signer=name)

    one = to_plain_cbor(appointment())
    grant = {1: public_bytes(key("temporary")), 2: 2, 3: "I02", 4: TIME}
    gone = {1: key_id(public_bytes(key("installer"))), 2: TIME, 3: "stolen"}
    small = bytes([1]) + bytes(31)  # the neutral element, of order 1: RFC 8032 section 5.1.4
    small_order = cose.sign1({1: -19, 4: key_id(small), -65537: 17}, cbor.encode({**one, 1: small}), key("appointed"),
                             cose.external_aad(1, LOG_ID))
    line = site.Line(name="L2", revision=1, kind=site.LineKind.DALI, addresses_from=0)
    seen = {1: TIME, 2: [[to_bytes(TAG), "Store room"]]}
    taken, adopted = to_plain_cbor(take_over()), cbor.decode(cose.split1(chain()["record-adopted"]).payload)
    own_note = good()["checkpoint"].encode()
    cases = [
        ("an appointment without an endorsement", _resigned({**one, 6: []}, kind=17, name="appointed"), "bad-payload", start),
        ("an appointment endorsed twice by one key", _resigned({**one, 6: one[6] * 2}, kind=17, name="appointed"),
         "bad-payload", start),
        ("an appointment endorsed by a key that is none of the genesis", appoint(request(), by="stranger"), "bad-endorsement",
         start),
        ("an appointment by a recovery key that the genesis does not have", appoint(request(), number=2), "bad-endorsement",
         start),
        ("an appointment endorsed for another vault",
         _resigned({**one, 6: [[1, endorse(request(log_id=STOCK_LOG_ID), key("recovery")).signature]]}, kind=17,
                   name="appointed"), "bad-endorsement", start),
        ("an appointment whose end of the others was not endorsed", _resigned({**one, 5: 0}, kind=17, name="appointed"),
         "bad-endorsement", start),
        ("an appointment signed by another key", _resigned(one, kind=17, name="authority"), "unknown-signer", start),
        ("an appointment of a key of small order", small_order, "bad-key", start),
        ("an appointment of a recovery key", appoint_key("recovery"), "bad-key", start),
        ("an appointment of the checkpoint key", appoint_key("checkpoint"), "bad-key", start),
        ("an appointment of a key that held a role", appoint_key("installer"), "bad-chain", start),
        ("an appointment out of its turn", appoint(request(number=2)), "bad-chain", start),
        ("a second appointment of the same key", appoint(request(number=2)), "bad-chain", late),
        ("an earlier appointment, appended later",
         appoint(request(public_key=public_bytes(key("stranger"))), signer="stranger"), "bad-chain", late),
        ("a grant by an authority that an appointment ended", _resigned(grant, kind=2, name="authority"), "withdrawn-signer",
         late),
        ("a grant that ends before it begins", _resigned({**grant, 5: TIME - 1}, kind=2, name="authority"), "bad-payload", start),
        ("a withdrawal with a place and no digest", _resigned({**gone, 4: 7}, kind=3, name="authority"), "bad-payload", start),
        ("a statement dated after its signer's grant ended", _resigned({**seen, 1: UNTIL + 1}, kind=15, name="temporary"),
         "expired-signer", made.index("grant-until") + 1),
        ("a statement behind an authority's later date", _resigned(to_plain_cbor(line), kind=7, name="temporary"),
         "expired-signer", late),
        ("a statement dated earlier behind an authority's later date", _resigned(seen, kind=15, name="temporary"),
         "expired-signer", late),
        ("an estate's checkpoint", estate_checkpoint(), "unknown-kind", start),
        ("kind 18", _resigned(taken, kind=18, name="appointed"), "unknown-kind", late),
        ("a take-over by a technician", _resigned(taken, kind=19, name="technician"), "wrong-role", late),
        ("a take-over by an authority that an appointment ended", _resigned(taken, kind=19, name="authority"),
         "withdrawn-signer", late),
        ("a take-over of the log that it stands in", _resigned(to_plain_cbor(take_over(
            log_id=LOG_ID, host=HOST, checkpoint=own_note)), kind=19, name="appointed"), "bad-chain", late),
        ("a take-over with another log's checkpoint", _resigned({**taken, 5: own_note}, kind=19, name="appointed"), "bad-payload",
         late),
        ("a take-over whose checkpoint is none", _resigned({**taken, 5: b"4 entries"}, kind=19, name="appointed"), "bad-payload",
         late),
        ("a take-over of no more entries than before", _resigned(taken, kind=19, name="appointed"), "bad-chain", late),
        ("a take-over of a log as another authority's", _resigned(to_plain_cbor(take_over(
            size=5, authority_key=public_bytes(key("stranger")))), kind=19, name="appointed"), "bad-chain", late),
        ("a record from a log that was never taken over", _resigned(adopted, name="technician"), "bad-chain",
         made.index("take-over")),
        ("a record from half a tag", _resigned({**adopted, 18: [OTHER_LOG_ID, b"\x12", 2, bytes(16)]}, name="technician"),
         "bad-payload", late),
    ]
    return [{"name": n, "signed": s.hex(), "failure": f, "behind": b} for n, s, f, b in cases]


def _changed_current(body: dict[int, Any], current_ma: int) -> dict[int, Any]:
    changed = cbor.decode(cbor.encode(body))
    changed[14][0][3][2][0][0] = current_ma
    return changed


# --- FORMAT.md ---------------------------------------------------------------------------------------------------

_BODIES = [statements.Genesis, statements.Grant, statements.Withdrawal, rating.Rating, rating.GearRating, rating.Module,
           rating.EmergencyLimits, rating.OriginalGear, driver.DriverModel, driver.Window, driver.Means,
           driver.EmergencyAbility, site.Circuit, site.Line, record.Record, record.TypeRef, rating.Essentials,
           settings.Gear, settings.Settings, settings.Channel, settings.Control, settings.ColourControl,
           settings.Emergency, settings.Presence, statements.Approval, statements.LabelIssue, statements.IssuedLabel,
           stock.Movement, stock.MovementLine, terms.SupplyTerms, terms.ItemTerms, statements.LabelPlaced,
           statements.LabelWithdrawal, statements.LabelCopy,
           statements.LabelSighting, statements.SeenLabel, statements.Recovery, statements.Appointment,
           statements.Endorsement, TakeOver, record.TakenFrom, estate.EstateCheckpoint, estate.SiteState]


def _holds(spec: Any) -> str:
    shape = spec.shape
    said = {
        "whole": f"integer {spec.least} to {spec.most}" + (f" {spec.unit}" if spec.unit else ""),
        "text": f"text, 1 to {spec.most} characters", "flag": "0 or 1",
        "raw": f"bytes, {spec.least}" + (f" to {spec.most}" if spec.most != spec.least else ""),
        "names": f"array name, value, name, value …, at most {spec.most} names in order",
    }.get(shape)
    if shape in ("choice", "choices"):
        members: type[IntEnum] = spec.kind
        listed = ", ".join(f"{int(m)} {words(m)}" for m in members)
        said = ("one of " if shape == "choice" else "bit mask of ") + listed
    elif shape == "part":
        said = spec.kind.__name__
    elif shape == "parts":
        said = f"array of {max(spec.least, 1)} to {spec.most} {spec.kind.__name__}"
    elif shape == "table":
        columns = " + ".join(str(w) for w in spec.widths)
        said = f"packed table, {columns} byte{'s' if sum(spec.widths) > 1 else ''} a row, at most {spec.most} rows"
        if spec.fill is not None:
            said += f"; rows left out at its end are {spec.fill}, and none of those stands there"
    return f"{said}{'; null = not set' if spec.may_be_not_set else ''}"


def tables() -> str:
    """The field tables of FORMAT.md."""
    out = []
    for kind in _BODIES:
        what = "map" if kind.FORM == "map" else "array, by ascending key"
        out += [f"### {kind.__name__} ({what})", "", "| key | field | holds |", "|---|---|---|"]
        out += [f"| {spec.key} | {name}{'' if spec.required else ' (may be left out)'} | {_holds(spec)} |"
                for name, spec in specs(kind)]
        out.append("")
    return "\n".join(out)


def examples() -> str:
    """The worked examples of FORMAT.md."""
    held = good()
    out = [f"Log id `{held['log_id']}`, stock log id `{held['stock_log_id']}`, tag `{held['tag']}` = bytes "
           f"`{held['tag_bytes']}`. Public keys:", ""]
    out += [f"- {name}: `{value}`" for name, value in held["public_keys"].items()]
    for one in (*held["statements"], *held["stock_log"]):
        digits = one["signed"]
        out += ["", f"**{one['name']}** ({len(digits) // 2} bytes, digest `{one['digest']}`)", "", "```"]
        out += [digits[i : i + 96] for i in range(0, len(digits), 96)] + ["```"]
    out += ["", "**link**", "", "```", held["link"], "```", "", "**capsule** (the record above)", "", "```"]
    out += [held["capsule"][i : i + 96] for i in range(0, len(held["capsule"]), 96)] + ["```", ""]
    out += ["**checkpoint** (over the statements before the stock movement)", "", "```", held["checkpoint"].rstrip(),
            "```", ""]
    out += ["**request** (for the appointment above)", "", "```", held["request"].rstrip(), "```", ""]
    out += ["**endorsement** (of that request)", "", "```", held["endorsement"].rstrip(), "```", ""]
    out += [f"**estate checkpoint** ({len(held['estate']) // 2} bytes)", "", "```"]
    out += [held["estate"][i : i + 96] for i in range(0, len(held["estate"]), 96)] + ["```", ""]
    return "\n".join(out)


def format_text(text: str) -> str:
    """FORMAT.md with its generated parts made anew."""
    for mark, made in (("fields", tables()), ("examples", examples())):
        text = re.sub(rf"(<!-- {mark}: begin -->\n).*?(<!-- {mark}: end -->)", lambda m, made=made: m[1] + made + m[2], text,
                      flags=re.DOTALL)
    return text


def outputs() -> dict[Path, str]:
    """Every file with the text it must have."""
    return {
        HERE / "good.json": json.dumps(good(), indent=1, ensure_ascii=False) + "\n",
        HERE / "bad.json": json.dumps(bad(), indent=1, ensure_ascii=False) + "\n",
        FORMAT: format_text(FORMAT.read_text(encoding="utf-8")),
    }


def main() -> int:
    """Write the files, or with --check say which differ."""
    made = outputs()
    if "--check" in sys.argv:
        stale = [str(path) for path, text in made.items() if path.read_text(encoding="utf-8") != text]
        print("\n".join(f"stale: {path}" for path in stale) or "all vectors are as the code makes them")
        return 1 if stale else 0
    for path, text in made.items():
        path.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())


