"""Amendments as rows; every table append-only from here on: the database refuses UPDATE and DELETE."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

APPEND_ONLY = ("instrument", "fit", "measurement", "amendment")
REFUSAL = "the logbook is append-only: add an amendment instead"


def upgrade() -> None:
    """Create the amendment table; forbid changes to all four."""
    op.create_table(
        "amendment",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("table_name", sa.String(20), nullable=False),
        sa.Column("row_id", sa.Integer, nullable=False),
        sa.Column("column_name", sa.String(40), nullable=False),
        sa.Column("old_value", sa.Text, nullable=False),
        sa.Column("new_value", sa.Text, nullable=False),
        sa.Column("reason", sa.String(200), nullable=False),
        sa.Column("who", sa.String(200)),
        sa.Column("amended_utc", sa.DateTime(timezone=True), nullable=False),
    )
    op.create_index("amendment_of_row", "amendment", ["table_name", "row_id"])
    if op.get_bind().dialect.name == "postgresql":
        op.execute(
            "CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{REFUSAL}'; END $$"
        )
        for table in APPEND_ONLY:
            op.execute(
                f"CREATE TRIGGER {table}_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
                "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
            )
        return
    for table in APPEND_ONLY:
        for change in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{change.lower()} BEFORE {change} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
            )
