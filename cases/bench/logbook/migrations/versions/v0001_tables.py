"""The first tables: instrument, fit, measurement."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Create the three tables."""
    op.create_table(
        "instrument",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("serial", sa.String(64), nullable=False, unique=True),
        sa.Column("model", sa.String(200)),
        sa.Column("wood_batch", sa.String(200)),
        sa.Column("built_on", sa.Date),
    )
    op.create_table(
        "fit",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("instrument_id", sa.Integer, sa.ForeignKey("instrument.id"), nullable=False, index=True),
        sa.Column(
            "attempt", sa.Integer, sa.CheckConstraint("attempt >= 1", name="attempt_positive"), nullable=False
        ),
        sa.Column(
            "reason",
            sa.String(10),
            sa.CheckConstraint("reason IN ('new', 'swap', 'return')", name="reason_known"),
            nullable=False,
        ),
        sa.Column("case_sha256", sa.String(64)),
        sa.Column("case_text", sa.Text),
        sa.Column("strings", sa.String(200)),
        sa.Column("upper_deg", sa.Float, nullable=False),
        sa.Column("lower_deg", sa.Float, nullable=False),
        sa.Column("predicted", sa.JSON, nullable=False),
        sa.Column("model_version", sa.String(200)),
        sa.Column("calibration_id", sa.String(200)),
        sa.Column("bench", sa.String(200)),
        sa.Column("who", sa.String(200)),
        sa.Column("started_utc", sa.DateTime(timezone=True), nullable=False),
    )
    op.create_table(
        "measurement",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("fit_id", sa.Integer, sa.ForeignKey("fit.id"), nullable=False, index=True),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column(
            "state",
            sa.String(10),
            sa.CheckConstraint("state IN ('bare', 'bolted', 'slack', 'strung')", name="state_known"),
            nullable=False,
        ),
        sa.Column("minutes_since_pitch", sa.Float),
        sa.Column("value", sa.Float, nullable=False),
        sa.Column("unit", sa.String(10), nullable=False),
        sa.Column("uncertainty", sa.Float),
        sa.Column("rh_percent", sa.Float),
        sa.Column("temp_c", sa.Float),
    )
