"""The store of spares: what a movement says besides, terms of supply; what a gear needs, to be grouped by."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

MOVEMENT = ("to_store", "to_bin", "condition", "made_day", "order_number", "delivery", "due_day", "supplier", "stream", "reason")
INDEXES = (("movement", "serial"), ("movement", "order_number"), ("movement", "delivery"), ("gear", "need"))


def _text(length: int) -> sa.String:
    # Texts sort by code point on every engine.
    return sa.String(length, collation="C" if op.get_bind().dialect.name == "postgresql" else None)


def upgrade() -> None:
    types: tuple[sa.types.TypeEngine[object], ...] = (
        _text(16), _text(16), sa.SmallInteger(), sa.BigInteger(), _text(24), _text(24), sa.BigInteger(), _text(24),
        sa.SmallInteger(), _text(60))
    for name, kind in zip(MOVEMENT, types, strict=True):
        op.add_column("movement", sa.Column(name, kind))
    op.add_column("gear", sa.Column("need", sa.LargeBinary(8)))
    for table, column in INDEXES:
        op.create_index(f"ix_{table}_{column}", table, [column])
    op.create_table(
        "supply_terms", sa.Column("seq", sa.BigInteger, nullable=False, autoincrement=False),
        sa.Column("number", sa.BigInteger, nullable=False, autoincrement=False),
        sa.Column("model", _text(24), nullable=False), sa.Column("item", sa.SmallInteger), sa.Column("supplier", _text(24)),
        sa.Column("price_cents", sa.BigInteger), sa.Column("currency", _text(3)), sa.Column("lead_days", sa.SmallInteger),
        sa.Column("order_multiple", sa.BigInteger), sa.Column("importance", sa.SmallInteger),
        sa.Column("last_order_day", sa.BigInteger), sa.Column("replaced_by", _text(24)),
        sa.Column("count_every_days", sa.SmallInteger), sa.Column("shelf_life_months", sa.SmallInteger),
        sa.Column("time_s", sa.BigInteger, nullable=False), sa.PrimaryKeyConstraint("seq", "number", name="pk_supply_terms"),
    )
    op.create_index("ix_supply_terms_model", "supply_terms", ["model"])


def downgrade() -> None:
    op.drop_table("supply_terms")
    for table, column in INDEXES:
        op.drop_index(f"ix_{table}_{column}", table)
    for table, columns in (("movement", MOVEMENT), ("gear", ("need",))):
        with op.batch_alter_table(table) as batch:
            for column in columns:
                batch.drop_column(column)
