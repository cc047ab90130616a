"""Read by the migration library each time it runs: which connection, which tables."""

from alembic import context

from triagebot.store.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
)
context.run_migrations()
