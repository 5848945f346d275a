"""Other vaults' entries that were taken over, who vouches for them, and which luminaires were adopted from them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def _text(length: int) -> sa.String:
    # Texts sort by code point on every engine.
    return sa.String(length, collation="C" if op.get_bind().dialect.name == "postgresql" else None)


def upgrade() -> None:
    op.create_table(
        "take_over", sa.Column("seq", sa.BigInteger, nullable=False, autoincrement=False),
        sa.Column("log_id", sa.LargeBinary(16), nullable=False), sa.Column("host", _text(30), nullable=False),
        sa.Column("site", _text(60), nullable=False), sa.Column("authority_key", sa.LargeBinary(32), nullable=False),
        sa.Column("size", sa.BigInteger, nullable=False), sa.Column("root", sa.LargeBinary(32), nullable=False),
        sa.Column("time_s", sa.BigInteger, nullable=False), sa.PrimaryKeyConstraint("seq", name="pk_take_over"),
    )
    op.create_index("ix_take_over_log_id", "take_over", ["log_id"])
    op.create_table(
        "adopted", sa.Column("seq", sa.BigInteger, nullable=False, autoincrement=False),
        sa.Column("log_id", sa.LargeBinary(16), nullable=False), sa.Column("tag", _text(9), nullable=False),
        sa.Column("version", sa.BigInteger, nullable=False), sa.Column("digest", sa.LargeBinary(16), nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_adopted"),
    )
    op.create_index("ix_adopted_log_id_tag", "adopted", ["log_id", "tag"])
    op.create_table(
        "taken", sa.Column("log_id", sa.LargeBinary(16), nullable=False),
        sa.Column("seq", sa.BigInteger, nullable=False, autoincrement=False), sa.Column("kind", sa.SmallInteger, nullable=False),
        sa.Column("digest", sa.LargeBinary(32), nullable=False), sa.Column("signed", sa.LargeBinary, nullable=False),
        sa.Column("nodes", sa.LargeBinary, nullable=False), sa.PrimaryKeyConstraint("log_id", "seq", name="pk_taken"),
        sa.UniqueConstraint("digest", name="uq_taken_digest"),
    )
    op.create_index("ix_taken_log_id_kind_seq", "taken", ["log_id", "kind", "seq"])
    op.create_table(
        "taken_record", sa.Column("log_id", sa.LargeBinary(16), nullable=False),
        sa.Column("seq", sa.BigInteger, nullable=False, autoincrement=False), sa.Column("tag", _text(9), nullable=False),
        sa.Column("version", sa.BigInteger, nullable=False), sa.Column("digest", sa.LargeBinary(32), nullable=False),
        sa.Column("type_code", _text(12), nullable=False), sa.Column("place", _text(40), nullable=False),
        sa.Column("line", _text(8)), sa.Column("circuit", _text(8)), sa.Column("reference", _text(24)),
        sa.PrimaryKeyConstraint("log_id", "seq", name="pk_taken_record"),
    )
    op.create_index("ix_taken_record_tag_log_id", "taken_record", ["tag", "log_id"])
    op.create_index("ix_taken_record_reference", "taken_record", ["reference"])


def downgrade() -> None:
    for table in ("taken_record", "taken", "adopted", "take_over"):
        op.drop_table(table)
