"""Run by Alembic; the connection, with its transaction, is handed over by inventory.store.schema."""

from alembic import context
from sqlmodel import SQLModel

import inventory.store.tables

assert inventory.store.tables  # noqa: S101 - imported for its metadata
context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=SQLModel.metadata,
    render_as_batch=True,
    transactional_ddl=True,
)
context.run_migrations()
