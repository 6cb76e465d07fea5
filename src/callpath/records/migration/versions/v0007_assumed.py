"""What is assumed of faults and of work, for one job or for all."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    """Add them; what was hidden before was hidden under the assumptions that ship with callpath."""
    op.create_table(
        "assumed",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("job_id", sa.String(32), sa.ForeignKey("job.id", name="fk_assumed_job_id_job")),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column(
            "person_id", sa.Integer, sa.ForeignKey("person.id", name="fk_assumed_person_id_person"), nullable=False
        ),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
    )
    op.create_index("ix_assumed_job_id", "assumed", ["job_id"])
    op.add_column("hunt", sa.Column("priors", sa.Text, nullable=False, server_default=""))
    op.add_column("hunt", sa.Column("minutes_assumed", sa.Text, nullable=False, server_default=""))


def downgrade() -> None:
    """Take them away."""
    with op.batch_alter_table("hunt") as hunt:
        hunt.drop_column("minutes_assumed")
        hunt.drop_column("priors")
    op.drop_table("assumed")
