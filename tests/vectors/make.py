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
from hashlib import sha256
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from vault.domain import driver, rating, record, site, stock, terms
from vault.domain.rating import essentials_of
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
from vault.trust import cose, estate, statements
from vault.trust.appointment import Request, endorse, endorsement_text, request_text
from vault.trust.capsule import capsule_text, link
from vault.trust.keys import key_id, public_bytes
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
    from field_tables import tables

    for mark, made in (("fields", tables()), ("examples", examples())):
        text = re.sub(rf"(<!-- {mark}: begin -->\n).*?(<!-- {mark}: end -->)", lambda m, made=made: m[1] + made + m[2], text,
                      flags=re.DOTALL)
    return text


def outputs() -> dict[Path, str]:
    """Every file with the text it must have."""
    from bad_ones import bad
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


