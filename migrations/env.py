"""Runs migrations on the connection that collection.store.migrate hands over, inside its transaction."""

from alembic import context

connection = context.config.attributes["connection"]
if connection.dialect.name == "sqlite" and connection.exec_driver_sql("PRAGMA foreign_keys").scalar() != 0:
    raise RuntimeError("migrations need a connection that never enforced foreign keys")

context.configure(connection=connection, target_metadata=context.config.attributes.get("metadata"))
context.run_migrations()
