"""Run by alembic, never imported: hands the connection that `cases.bench.store` opened to the revisions."""

from alembic import context

from cases.bench.schema import metadata

# transactional_ddl: SQLite can undo its DDL once the connection says BEGIN itself, which ours does;
# a migration killed half-way then leaves the old tables as they were.
context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    transactional_ddl=True,
    version_table="logbook_revision",
)
with context.begin_transaction():
    context.run_migrations()
