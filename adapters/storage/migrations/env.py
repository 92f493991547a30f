"""Alembic's door: it works on the open connection that `adapters.storage.migrate` hands over, within its transaction."""

from alembic import context

context.configure(connection=context.config.attributes["connection"])
with context.begin_transaction():
    context.run_migrations()
