"""Searches for faults, real and hidden, and how they went."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add what is needed to go on with a search on another device, and to keep score."""
    moment = sa.DateTime(timezone=True)
    op.create_table(
        "hunt",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("job_id", sa.String(32), sa.ForeignKey("job.id", name="fk_hunt_job_id_job"), nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("seen", sa.Text, nullable=False),
        sa.Column("skipped", sa.Text, nullable=False),
        sa.Column("seed", sa.Integer, nullable=False),
        sa.Column("faults", sa.Integer, nullable=False),
        sa.Column("alike", sa.String(20), nullable=False),
        sa.Column("found", sa.Boolean, nullable=False),
        sa.Column("tests", sa.Integer, nullable=False),
        sa.Column("minutes", sa.Double, nullable=False),
        sa.Column("best_tests", sa.Integer, nullable=False),
        sa.Column("best_minutes", sa.Double, nullable=False),
        sa.Column("person_id", sa.Integer, sa.ForeignKey("person.id", name="fk_hunt_person_id_person"), nullable=False),
        sa.Column("made_at", moment, nullable=False),
        sa.Column("ended_at", moment),
    )
    op.create_index("ix_hunt_job_id", "hunt", ["job_id"])


def downgrade() -> None:
    """Take them away."""
    op.drop_table("hunt")
