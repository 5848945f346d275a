"""How long grants hold, how far a stolen key is believed; texts sort the same way on every engine."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def _collate(collation: str) -> None:
    # SQLite compares bytes as it is; a PostgreSQL server compares as its locale says unless a column says otherwise.
    connection = op.get_bind()
    if connection.dialect.name != "postgresql":
        return
    inspector = sa.inspect(connection)
    for table in inspector.get_table_names():
        for column in inspector.get_columns(table):
            if isinstance(column["type"], sa.String):
                kind = column["type"].compile(connection.dialect).split(" COLLATE")[0]
                op.execute(f'ALTER TABLE {table} ALTER COLUMN {column["name"]} TYPE {kind} COLLATE "{collation}"')


def upgrade() -> None:
    op.add_column("signer", sa.Column("until_s", sa.BigInteger))
    op.add_column("signer", sa.Column("ends_others", sa.Boolean))
    op.add_column("signer_withdrawal", sa.Column("trusted_until", sa.BigInteger))
    op.add_column("signer_withdrawal", sa.Column("trusted_digest", sa.LargeBinary(8)))
    _collate("C")


def downgrade() -> None:
    _collate("default")
    for table, columns in (("signer", ("until_s", "ends_others")), ("signer_withdrawal", ("trusted_until", "trusted_digest"))):
        with op.batch_alter_table(table) as batch:
            for column in columns:
                batch.drop_column(column)
