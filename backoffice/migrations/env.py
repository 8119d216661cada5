"""Alembic's way in: always on a connection and transaction of ours."""

from alembic import context

from backoffice.schema import Base

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=Base.metadata,
    transactional_ddl=False,
    user_module_prefix="db.",
)
context.run_migrations()
