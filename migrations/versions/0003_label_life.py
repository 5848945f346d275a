"""Why, when and by whom labels were printed, placed, withdrawn and found; records that came back from labels."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def _numbers(*names: str) -> list[sa.Column]:
    return [sa.Column(name, sa.BigInteger, nullable=False, autoincrement=False) for name in names]


def _rows(table: str) -> list[dict[str, Any]]:
    # What these rows lack is read from the journal when the index is made anew, the second half of gearkeep upgrade.
    found = op.get_bind().exec_driver_sql(
        f"SELECT t.*, 0 AS time_s, j.key_id AS key_id FROM {table} AS t JOIN journal AS j ON j.log = 0 AND j.seq = t.seq")
    return [dict(row._mapping) for row in found]


def upgrade() -> None:
    issued, events = _rows("label"), _rows("label_event")
    op.drop_table("label")
    op.drop_table("label_event")
    label = op.create_table(
        "label", *_numbers("seq", "number"), sa.Column("tag", sa.String(9), nullable=False),
        sa.Column("copy", sa.SmallInteger, nullable=False), sa.Column("record_prefix", sa.LargeBinary(8), nullable=False),
        sa.Column("carries_settings", sa.Boolean), sa.Column("why", sa.SmallInteger),
        sa.Column("time_s", sa.BigInteger, nullable=False), sa.Column("key_id", sa.LargeBinary(8), nullable=False),
        sa.PrimaryKeyConstraint("seq", "number", name="pk_label"),
    )
    op.create_index("ix_label_tag_copy", "label", ["tag", "copy"])
    label_event = op.create_table(
        "label_event", *_numbers("seq", "number"), sa.Column("tag", sa.String(9), nullable=False),
        sa.Column("copy", sa.SmallInteger), sa.Column("event", sa.String(12), nullable=False),
        sa.Column("why", sa.String(60)), sa.Column("place", sa.String(40)),
        sa.Column("record_prefix", sa.LargeBinary(8)), sa.Column("time_s", sa.BigInteger, nullable=False),
        sa.Column("key_id", sa.LargeBinary(8), nullable=False),
        sa.PrimaryKeyConstraint("seq", "number", name="pk_label_event"),
    )
    op.create_index("ix_label_event_tag", "label_event", ["tag"])
    op.bulk_insert(label, issued)
    op.bulk_insert(label_event, events)
    op.create_table(
        "recovered_record", *_numbers("seq", "number"), sa.Column("digest", sa.LargeBinary(32), nullable=False),
        sa.PrimaryKeyConstraint("seq", "number", name="pk_recovered_record"),
    )
    op.create_index("ix_recovered_record_digest", "recovered_record", ["digest"])


def downgrade() -> None:
    op.drop_table("recovered_record")
    op.execute("DELETE FROM label_event WHERE event = 'sighted'")
    with op.batch_alter_table("label") as label:
        for column in ("why", "time_s", "key_id"):
            label.drop_column(column)
    with op.batch_alter_table("label_event") as label_event:
        label_event.alter_column("copy", existing_type=sa.SmallInteger, nullable=False)
        for column in ("why", "place", "record_prefix", "time_s", "key_id"):
            label_event.drop_column(column)
