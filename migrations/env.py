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
    include_name=lambda name, kind, _: not str(name).startswith(("search_", "ix_search_")),
)
with context.begin_transaction():
    context.run_migrations()
