"""How many repairs somebody made in vain while practising."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    """Count them; before, nobody did."""
    op.add_column("hunt", sa.Column("wrong", sa.Integer, nullable=False, server_default="0"))


def downgrade() -> None:
    """Count them no more."""
    with op.batch_alter_table("hunt") as hunt:
        hunt.drop_column("wrong")
