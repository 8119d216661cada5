"""Alembic's way in: always on a connection and transaction of ours."""

from alembic import context

from backoffice import schema

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=schema.METADATA,
    transactional_ddl=False,
    user_module_prefix="db.",
)
context.run_migrations()
