"""Alembic runs here with the connection that the application hands over."""

from alembic import context
from sqlmodel import SQLModel

from server.records import tables  # noqa: F401  the models register themselves

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=SQLModel.metadata,
    render_as_batch=True,
    compare_type=True,
)
with context.begin_transaction():
    context.run_migrations()
