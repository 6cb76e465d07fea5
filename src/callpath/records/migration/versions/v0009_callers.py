"""Who made the call while something was measured."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    """Add it; before, it was always made by all thermostats that can."""
    op.add_column("measured", sa.Column("callers", sa.Text, nullable=False, server_default=""))


def downgrade() -> None:
    """Take it away."""
    with op.batch_alter_table("measured") as measured:
        measured.drop_column("callers")
