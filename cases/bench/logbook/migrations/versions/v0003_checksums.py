"""A checksum a row; rows that are in the log already get theirs now."""

import sqlalchemy as sa
from alembic import op

from cases.bench.logbook.checksum import row_checksum

revision = "0003"
down_revision = "0002"

TABLES = ("instrument", "fit", "measurement", "amendment")
REFUSAL = "the logbook is append-only: add an amendment instead"


def upgrade() -> None:
    """Add the column and fill it; the refusal of changes is lifted for that, inside this transaction."""
    postgres = op.get_bind().dialect.name == "postgresql"
    for table in TABLES:
        op.add_column(table, sa.Column("checksum", sa.String(16), nullable=False, server_default=""))
        if postgres:
            op.execute(f"ALTER TABLE {table} DISABLE TRIGGER {table}_append_only")
            _fill(table)
            op.execute(f"ALTER TABLE {table} ENABLE TRIGGER {table}_append_only")
            continue
        op.execute(f"DROP TRIGGER {table}_no_update")
        _fill(table)
        op.execute(
            f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
        )


def _fill(name: str) -> None:
    bind = op.get_bind()
    table = sa.Table(name, sa.MetaData(), autoload_with=bind)
    for row in bind.execute(sa.select(table)).all():
        checksum = row_checksum(row._asdict())
        bind.execute(sa.update(table).where(table.c.id == row.id).values(checksum=checksum))
