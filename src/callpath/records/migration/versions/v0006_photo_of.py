"""What a photo is of, and a small one of it for lists."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    """Add them; a photo that was there before is of nothing in particular, and is made small when it is asked for."""
    op.add_column("photo", sa.Column("of", sa.String(100), nullable=False, server_default=""))
    op.add_column("photo", sa.Column("small", sa.LargeBinary))


def downgrade() -> None:
    """Take them away."""
    with op.batch_alter_table("photo") as photo:
        photo.drop_column("small")
        photo.drop_column("of")
