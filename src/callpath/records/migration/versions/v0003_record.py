"""What was measured and seen: readings and photos."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Add the record of the work beside the record of the job."""
    moment = sa.DateTime(timezone=True)
    op.create_table(
        "measured",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("job_id", sa.String(32), sa.ForeignKey("job.id", name="fk_measured_job_id_job"), nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("phase", sa.String(20), nullable=False),
        sa.Column("call", sa.String(80), nullable=False),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("one", sa.String(100), nullable=False),
        sa.Column("other", sa.String(100), nullable=False),
        sa.Column("lifted", sa.String(100), nullable=False),
        sa.Column("amount", sa.Double),
        sa.Column("low", sa.Double),
        sa.Column("high", sa.Double),
        sa.Column("note", sa.String(400), nullable=False),
        sa.Column("struck", sa.Boolean, nullable=False),
        sa.Column(
            "person_id", sa.Integer, sa.ForeignKey("person.id", name="fk_measured_person_id_person"), nullable=False
        ),
        sa.Column("made_at", moment, nullable=False),
    )
    op.create_index("ix_measured_job_id", "measured", ["job_id"])
    op.create_table(
        "photo",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("job_id", sa.String(32), sa.ForeignKey("job.id", name="fk_photo_job_id_job"), nullable=False),
        sa.Column("phase", sa.String(20), nullable=False),
        sa.Column("caption", sa.String(400), nullable=False),
        sa.Column("width", sa.Integer, nullable=False),
        sa.Column("height", sa.Integer, nullable=False),
        sa.Column("jpeg", sa.LargeBinary, nullable=False),
        sa.Column("struck", sa.Boolean, nullable=False),
        sa.Column(
            "person_id", sa.Integer, sa.ForeignKey("person.id", name="fk_photo_person_id_person"), nullable=False
        ),
        sa.Column("made_at", moment, nullable=False),
    )
    op.create_index("ix_photo_job_id", "photo", ["job_id"])


def downgrade() -> None:
    """Take it away."""
    for table in ("photo", "measured"):
        op.drop_table(table)
