"""Which version is as found and which as left."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Add the marks; what was brought in as a file was as found when it came."""
    op.create_table(
        "phase_mark",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("job_id", sa.String(32), sa.ForeignKey("job.id", name="fk_phase_mark_job_id_job"), nullable=False),
        sa.Column("phase", sa.String(20), nullable=False),
        sa.Column("version", sa.Integer),
        sa.Column(
            "person_id", sa.Integer, sa.ForeignKey("person.id", name="fk_phase_mark_person_id_person"), nullable=False
        ),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
    )
    op.create_index("ix_phase_mark_job_id", "phase_mark", ["job_id"])
    op.execute(
        "insert into phase_mark (job_id, phase, version, person_id, made_at) "
        "select job_id, 'as-found', 1, person_id, made_at from revision "
        "where number = 1 and what like 'brought in from %' order by id"
    )


def downgrade() -> None:
    """Take them away."""
    op.drop_table("phase_mark")
