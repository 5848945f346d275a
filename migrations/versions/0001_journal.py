"""The journal and its checkpoints: all that a vault is."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "journal",
        sa.Column("log", sa.SmallInteger, nullable=False, autoincrement=False),
        sa.Column("seq", sa.BigInteger, nullable=False, autoincrement=False),
        sa.Column("kind", sa.SmallInteger, nullable=False),
        sa.Column("key_id", sa.LargeBinary(8), nullable=False),
        sa.Column("digest", sa.LargeBinary(32), nullable=False),
        sa.Column("signed", sa.LargeBinary, nullable=False),
        sa.Column("nodes", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("log", "seq", name="pk_journal"),
        sa.UniqueConstraint("digest", name="uq_journal_digest"),
    )
    op.create_index("ix_journal_log_kind_seq", "journal", ["log", "kind", "seq"])
    op.create_table(
        "checkpoint",
        sa.Column("log", sa.SmallInteger, nullable=False, autoincrement=False),
        sa.Column("size", sa.BigInteger, nullable=False, autoincrement=False),
        sa.Column("root", sa.LargeBinary(32), nullable=False),
        sa.Column("note", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("log", "size", name="pk_checkpoint"),
    )


def downgrade() -> None:
    op.drop_table("checkpoint")
    op.drop_table("journal")
