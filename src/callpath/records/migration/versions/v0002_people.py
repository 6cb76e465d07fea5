"""Accounts: passwords, logins, failed attempts, and who may see which job."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add what an office needs beside what one person needs."""
    moment = sa.DateTime(timezone=True)
    op.add_column("person", sa.Column("password_hash", sa.String(200)))
    op.create_table(
        "login",
        sa.Column("digest", sa.String(64), primary_key=True),
        sa.Column(
            "person_id", sa.Integer, sa.ForeignKey("person.id", name="fk_login_person_id_person"), nullable=False
        ),
        sa.Column("made_at", moment, nullable=False),
        sa.Column("ends_at", moment, nullable=False),
    )
    op.create_index("ix_login_person_id", "login", ["person_id"])
    op.create_table(
        "attempt",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("address", sa.String(80), nullable=False),
        sa.Column("made_at", moment, nullable=False),
    )
    op.create_index("ix_attempt_made_at", "attempt", ["made_at"])
    op.create_table(
        "grant",
        sa.Column("job_id", sa.String(32), sa.ForeignKey("job.id", name="fk_grant_job_id_job"), primary_key=True),
        sa.Column(
            "person_id", sa.Integer, sa.ForeignKey("person.id", name="fk_grant_person_id_person"), primary_key=True
        ),
        sa.Column("may_edit", sa.Boolean, nullable=False),
    )


def downgrade() -> None:
    """Take them away; jobs stay with who owns them."""
    for table in ("grant", "attempt", "login"):
        op.drop_table(table)
    op.drop_column("person", "password_hash")
