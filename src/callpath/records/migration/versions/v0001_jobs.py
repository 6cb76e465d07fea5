"""People, jobs and their revisions."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the first tables."""
    moment = sa.DateTime(timezone=True)
    op.create_table(
        "person",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("role", sa.String(20), nullable=False),
        sa.Column("active", sa.Boolean, nullable=False),
        sa.Column("made_at", moment, nullable=False),
        sa.UniqueConstraint("name", name="uq_person_name"),
    )
    op.create_table(
        "secret",
        sa.Column("name", sa.String(40), primary_key=True),
        sa.Column("value", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "job",
        sa.Column("id", sa.String(32), primary_key=True),
        sa.Column("title", sa.String(400), nullable=False),
        sa.Column("head", sa.Integer, nullable=False),
        sa.Column("archived", sa.Boolean, nullable=False),
        sa.Column("owner_id", sa.Integer, sa.ForeignKey("person.id", name="fk_job_owner_id_person"), nullable=False),
        sa.Column("made_at", moment, nullable=False),
        sa.Column("changed_at", moment, nullable=False),
    )
    op.create_table(
        "revision",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("job_id", sa.String(32), sa.ForeignKey("job.id", name="fk_revision_job_id_job"), nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("state", sa.Integer, nullable=False),
        sa.Column("base", sa.Integer),
        sa.Column("aside", sa.Boolean, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("what", sa.String(400), nullable=False),
        sa.Column(
            "person_id", sa.Integer, sa.ForeignKey("person.id", name="fk_revision_person_id_person"), nullable=False
        ),
        sa.Column("made_at", moment, nullable=False),
        sa.UniqueConstraint("job_id", "number", name="uq_revision_job_id"),
    )
    op.create_index("ix_revision_job_id", "revision", ["job_id"])


def downgrade() -> None:
    """Take them away, with everything in them."""
    for table in ("revision", "job", "secret", "person"):
        op.drop_table(table)
