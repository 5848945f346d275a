"""The index over the journal; `gearkeep rebuild` fills it from the journal alone."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def _numbers(*names: str) -> list[sa.Column]:
    return [sa.Column(name, sa.BigInteger, nullable=False, autoincrement=False) for name in names]


def upgrade() -> None:
    op.create_table(
        "signer", *_numbers("seq"), sa.Column("key_id", sa.LargeBinary(8), nullable=False),
        sa.Column("public_key", sa.LargeBinary(32), nullable=False), sa.Column("code", sa.String(8), nullable=False),
        sa.Column("roles", sa.SmallInteger, nullable=False), sa.PrimaryKeyConstraint("seq", name="pk_signer"),
    )
    op.create_index("ix_signer_key_id", "signer", ["key_id"])
    op.create_table(
        "signer_withdrawal", *_numbers("seq"), sa.Column("key_id", sa.LargeBinary(8), nullable=False),
        sa.Column("reason", sa.String(60), nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_signer_withdrawal"),
    )
    op.create_table(
        "catalogue", *_numbers("seq"), sa.Column("kind", sa.SmallInteger, nullable=False),
        sa.Column("name", sa.String(24), nullable=False), sa.Column("revision", sa.SmallInteger, nullable=False),
        sa.Column("digest", sa.LargeBinary(32), nullable=False), sa.PrimaryKeyConstraint("seq", name="pk_catalogue"),
        sa.UniqueConstraint("kind", "name", "revision", name="uq_catalogue_kind_name_revision"),
    )
    op.create_table(
        "record", *_numbers("seq"), sa.Column("tag", sa.String(9), nullable=False),
        sa.Column("version", sa.BigInteger, nullable=False), sa.Column("digest", sa.LargeBinary(32), nullable=False),
        sa.Column("prefix", sa.LargeBinary(16), nullable=False), sa.Column("type_code", sa.String(12), nullable=False),
        sa.Column("type_revision", sa.SmallInteger, nullable=False), sa.Column("place", sa.String(40), nullable=False),
        sa.Column("line", sa.String(8)), sa.Column("circuit", sa.String(8)), sa.Column("reference", sa.String(24)),
        sa.Column("reason", sa.SmallInteger, nullable=False), sa.Column("time_s", sa.BigInteger, nullable=False),
        sa.Column("open_stops", sa.String(200)), sa.Column("key_id", sa.LargeBinary(8), nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_record"),
    )
    op.create_index("ix_record_tag_version", "record", ["tag", "version"])
    for column in ("reference", "line", "prefix"):
        op.create_index(f"ix_record_{column}", "record", [column])
    op.create_table(
        "record_predecessor", *_numbers("seq", "number"), sa.Column("prefix", sa.LargeBinary(16), nullable=False),
        sa.PrimaryKeyConstraint("seq", "number", name="pk_record_predecessor"),
    )
    op.create_index("ix_record_predecessor_prefix", "record_predecessor", ["prefix"])
    op.create_table(
        "gear", *_numbers("seq", "number"), sa.Column("duty", sa.SmallInteger, nullable=False),
        sa.Column("model", sa.String(24)), sa.Column("serial", sa.String(24)),
        sa.Column("short_address", sa.SmallInteger), sa.Column("central_circuit", sa.String(8)),
        sa.Column("central_address", sa.SmallInteger), sa.PrimaryKeyConstraint("seq", "number", name="pk_gear"),
    )
    op.create_index("ix_gear_serial", "gear", ["serial"])
    op.create_table(
        "approval", *_numbers("seq"), sa.Column("record_digest", sa.LargeBinary(32), nullable=False),
        sa.Column("accepts", sa.String(200), nullable=False), sa.Column("change_class", sa.SmallInteger, nullable=False),
        sa.Column("key_id", sa.LargeBinary(8), nullable=False), sa.PrimaryKeyConstraint("seq", name="pk_approval"),
    )
    op.create_index("ix_approval_record_digest", "approval", ["record_digest"])
    op.create_table(
        "label", *_numbers("seq", "number"), sa.Column("tag", sa.String(9), nullable=False),
        sa.Column("copy", sa.SmallInteger, nullable=False), sa.Column("record_prefix", sa.LargeBinary(8), nullable=False),
        sa.Column("carries_settings", sa.Boolean), sa.PrimaryKeyConstraint("seq", "number", name="pk_label"),
    )
    op.create_index("ix_label_tag_copy", "label", ["tag", "copy"])
    op.create_table(
        "label_event", *_numbers("seq", "number"), sa.Column("tag", sa.String(9), nullable=False),
        sa.Column("copy", sa.SmallInteger, nullable=False), sa.Column("event", sa.String(12), nullable=False),
        sa.PrimaryKeyConstraint("seq", "number", name="pk_label_event"),
    )
    op.create_index("ix_label_event_tag", "label_event", ["tag"])
    op.create_table(
        "movement", *_numbers("seq", "number"), sa.Column("act", sa.SmallInteger, nullable=False),
        sa.Column("store", sa.String(16), nullable=False), sa.Column("model", sa.String(24), nullable=False),
        sa.Column("quantity", sa.BigInteger, nullable=False), sa.Column("bin", sa.String(16)),
        sa.Column("serial", sa.String(24)), sa.Column("tag", sa.String(9)),
        sa.Column("time_s", sa.BigInteger, nullable=False),
        sa.PrimaryKeyConstraint("seq", "number", name="pk_movement"),
    )
    op.create_index("ix_movement_model", "movement", ["model"])
    op.create_index("ix_movement_tag", "movement", ["tag"])
    op.create_table(
        "signer_name", sa.Column("code", sa.String(8), nullable=False), sa.Column("name", sa.String(80), nullable=False),
        sa.PrimaryKeyConstraint("code", name="pk_signer_name"),
    )


def downgrade() -> None:
    for table in ("signer_name", "movement", "label_event", "label", "approval", "gear", "record_predecessor",
                  "record", "catalogue", "signer_withdrawal", "signer"):
        op.drop_table(table)
