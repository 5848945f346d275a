"""The journal is the vault; every other table is its index and can be rebuilt from it."""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Index,
    LargeBinary,
    MetaData,
    SmallInteger,
    String,
    Table,
    Text,
    UniqueConstraint,
)

MAIN, STOCK = 0, 1

metadata = MetaData(naming_convention={
    "ix": "ix_%(table_name)s_%(column_0_N_name)s", "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s", "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
})


def _key(name: str) -> Column[int]:
    return Column(name, BigInteger, primary_key=True, autoincrement=False)


# Append-only, held so by triggers. nodes: the tree hashes that this leaf completes (see vault/trust/merkle.py).
journal = Table(
    "journal", metadata, Column("log", SmallInteger, primary_key=True, autoincrement=False), _key("seq"),
    Column("kind", SmallInteger, nullable=False), Column("key_id", LargeBinary(8), nullable=False),
    Column("digest", LargeBinary(32), nullable=False), Column("signed", LargeBinary, nullable=False),
    Column("nodes", LargeBinary, nullable=False), UniqueConstraint("digest"), Index(None, "log", "kind", "seq"),
)
checkpoint = Table(
    "checkpoint", metadata, Column("log", SmallInteger, primary_key=True, autoincrement=False), _key("size"),
    Column("root", LargeBinary(32), nullable=False), Column("note", Text, nullable=False),
)

# until_s: a grant's expiry. ends_others: of an appointment, whether the other authorities end there.
signer = Table(
    "signer", metadata, _key("seq"), Column("key_id", LargeBinary(8), nullable=False),
    Column("public_key", LargeBinary(32), nullable=False), Column("code", String(8), nullable=False),
    Column("roles", SmallInteger, nullable=False), Column("until_s", BigInteger), Column("ends_others", Boolean),
    Index(None, "key_id"),
)
# trusted_until, trusted_digest: the last entry of a stolen key that is still believed, and its digest's first bytes.
signer_withdrawal = Table(
    "signer_withdrawal", metadata, _key("seq"), Column("key_id", LargeBinary(8), nullable=False),
    Column("reason", String(60), nullable=False), Column("trusted_until", BigInteger),
    Column("trusted_digest", LargeBinary(8)),
)
catalogue = Table(
    "catalogue", metadata, _key("seq"), Column("kind", SmallInteger, nullable=False),
    Column("name", String(24), nullable=False), Column("revision", SmallInteger, nullable=False),
    Column("digest", LargeBinary(32), nullable=False), UniqueConstraint("kind", "name", "revision"),
)
record = Table(
    "record", metadata, _key("seq"), Column("tag", String(9), nullable=False),
    Column("version", BigInteger, nullable=False), Column("digest", LargeBinary(32), nullable=False),
    Column("prefix", LargeBinary(16), nullable=False), Column("type_code", String(12), nullable=False),
    Column("type_revision", SmallInteger, nullable=False), Column("place", String(40), nullable=False),
    Column("line", String(8)), Column("circuit", String(8)), Column("reference", String(24)),
    Column("reason", SmallInteger, nullable=False), Column("time_s", BigInteger, nullable=False),
    Column("open_stops", String(200)), Column("key_id", LargeBinary(8), nullable=False),
    Index(None, "tag", "version"), Index(None, "reference"), Index(None, "line"), Index(None, "prefix"),
)
record_predecessor = Table(
    "record_predecessor", metadata, _key("seq"), _key("number"), Column("prefix", LargeBinary(16), nullable=False),
    Index(None, "prefix"),
)
# need: digest of the settings without addresses (vault/trust/need_digest.py).
gear = Table(
    "gear", metadata, _key("seq"), _key("number"), Column("duty", SmallInteger, nullable=False),
    Column("model", String(24)), Column("serial", String(24)), Column("short_address", SmallInteger),
    Column("central_circuit", String(8)), Column("central_address", SmallInteger),
    Column("need", LargeBinary(8)), Index(None, "serial"), Index(None, "need"),
)
approval = Table(
    "approval", metadata, _key("seq"), Column("record_digest", LargeBinary(32), nullable=False),
    Column("accepts", String(200), nullable=False), Column("change_class", SmallInteger, nullable=False),
    Column("key_id", LargeBinary(8), nullable=False), Index(None, "record_digest"),
)
label = Table(
    "label", metadata, _key("seq"), _key("number"), Column("tag", String(9), nullable=False),
    Column("copy", SmallInteger, nullable=False), Column("record_prefix", LargeBinary(8), nullable=False),
    Column("carries_settings", Boolean), Column("why", SmallInteger), Column("time_s", BigInteger, nullable=False),
    Column("key_id", LargeBinary(8), nullable=False), Index(None, "tag", "copy"),
)
# event: placed, withdrawn or sighted. why: of a withdrawal. place, record_prefix: of a sighting, whose copy may be unknown.
label_event = Table(
    "label_event", metadata, _key("seq"), _key("number"), Column("tag", String(9), nullable=False),
    Column("copy", SmallInteger), Column("event", String(12), nullable=False), Column("why", String(60)),
    Column("place", String(40)), Column("record_prefix", LargeBinary(8)), Column("time_s", BigInteger, nullable=False),
    Column("key_id", LargeBinary(8), nullable=False), Index(None, "tag"),
)
recovered_record = Table(
    "recovered_record", metadata, _key("seq"), _key("number"), Column("digest", LargeBinary(32), nullable=False),
    Index(None, "digest"),
)
movement = Table(
    "movement", metadata, _key("seq"), _key("number"), Column("act", SmallInteger, nullable=False),
    Column("store", String(16), nullable=False), Column("model", String(24), nullable=False),
    Column("quantity", BigInteger, nullable=False), Column("bin", String(16)), Column("serial", String(24)),
    Column("tag", String(9)), Column("time_s", BigInteger, nullable=False), Column("to_store", String(16)),
    Column("to_bin", String(16)), Column("condition", SmallInteger), Column("made_day", BigInteger),
    Column("order_number", String(24)), Column("delivery", String(24)), Column("due_day", BigInteger),
    Column("supplier", String(24)), Column("stream", SmallInteger), Column("reason", String(60)),
    Index(None, "model"), Index(None, "tag"), Index(None, "serial"), Index(None, "order_number"), Index(None, "delivery"),
)
# Of one model the newest row counts whole.
supply_terms = Table(
    "supply_terms", metadata, _key("seq"), _key("number"), Column("model", String(24), nullable=False),
    Column("item", SmallInteger), Column("supplier", String(24)), Column("price_cents", BigInteger),
    Column("currency", String(3)), Column("lead_days", SmallInteger), Column("order_multiple", BigInteger),
    Column("importance", SmallInteger), Column("last_order_day", BigInteger), Column("replaced_by", String(24)),
    Column("count_every_days", SmallInteger), Column("shelf_life_months", SmallInteger),
    Column("time_s", BigInteger, nullable=False), Index(None, "model"),
)

# Other vaults' logs that the authority took over: the newest state of each is the row with the greatest size.
take_over = Table(
    "take_over", metadata, _key("seq"), Column("log_id", LargeBinary(16), nullable=False),
    Column("host", String(30), nullable=False), Column("site", String(60), nullable=False),
    Column("authority_key", LargeBinary(32), nullable=False), Column("size", BigInteger, nullable=False),
    Column("root", LargeBinary(32), nullable=False), Column("time_s", BigInteger, nullable=False), Index(None, "log_id"),
)
# Which version of another vault's luminaire a record of ours was adopted from.
adopted = Table(
    "adopted", metadata, _key("seq"), Column("log_id", LargeBinary(16), nullable=False),
    Column("tag", String(9), nullable=False), Column("version", BigInteger, nullable=False),
    Column("digest", LargeBinary(16), nullable=False), Index(None, "log_id", "tag"),
)

# Entries of other vaults' main logs. Append-only, held so by triggers; not of our journal, but vouched for by its take-overs.
taken = Table(
    "taken", metadata, Column("log_id", LargeBinary(16), primary_key=True), _key("seq"),
    Column("kind", SmallInteger, nullable=False), Column("digest", LargeBinary(32), nullable=False),
    Column("signed", LargeBinary, nullable=False), Column("nodes", LargeBinary, nullable=False), UniqueConstraint("digest"),
    Index(None, "log_id", "kind", "seq"),
)
# Where to look for a taken luminaire; a pure function of the rows of `taken`.
taken_record = Table(
    "taken_record", metadata, Column("log_id", LargeBinary(16), primary_key=True), _key("seq"),
    Column("tag", String(9), nullable=False), Column("version", BigInteger, nullable=False),
    Column("digest", LargeBinary(32), nullable=False), Column("type_code", String(12), nullable=False),
    Column("place", String(40), nullable=False), Column("line", String(8)), Column("circuit", String(8)),
    Column("reference", String(24)), Index(None, "tag", "log_id"), Index(None, "reference"),
)

# A person's name stands here alone, never in the journal, and can be erased.
signer_name = Table(
    "signer_name", metadata, Column("code", String(8), primary_key=True), Column("name", String(80), nullable=False),
)

# Which log each projection is derived from.
PROJECTIONS: dict[Table, int] = {
    signer: MAIN, signer_withdrawal: MAIN, catalogue: MAIN, record: MAIN, record_predecessor: MAIN, gear: MAIN,
    approval: MAIN, label: MAIN, label_event: MAIN, recovered_record: MAIN, take_over: MAIN,
    adopted: MAIN, movement: STOCK, supply_terms: STOCK,
}
