"""How alembic runs the migrations: on the connection that it is handed, in the transaction that is open."""

from __future__ import annotations

from alembic import context

from callpath.records.schema import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,
    transaction_per_migration=False,
)
context.run_migrations()
