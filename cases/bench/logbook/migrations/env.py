"""Run by alembic, never imported: passes on the connection that the log's store opened."""

from alembic import context

from cases.bench.logbook.schema import metadata

# The connection is inside a transaction of ours: a migration that fails half-way leaves the old tables.
context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    version_table="logbook_revision",
)
with context.begin_transaction():
    context.run_migrations()
