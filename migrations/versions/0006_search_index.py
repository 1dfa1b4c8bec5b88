"""an index over every three letters of the search lines, so that a rare word is found at once"""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

SQLITE = (
    "CREATE VIRTUAL TABLE search_words USING fts5("
    "text, content='search', content_rowid='piece_id', tokenize='trigram')",
    "INSERT INTO search_words (search_words) VALUES ('rebuild')",
    "CREATE TRIGGER search_added AFTER INSERT ON search BEGIN"
    " INSERT INTO search_words (rowid, text) VALUES (new.piece_id, new.text); END",
    "CREATE TRIGGER search_gone AFTER DELETE ON search BEGIN"
    " INSERT INTO search_words (search_words, rowid, text)"
    " VALUES ('delete', old.piece_id, old.text); END",
    "CREATE TRIGGER search_changed AFTER UPDATE ON search BEGIN"
    " INSERT INTO search_words (search_words, rowid, text)"
    " VALUES ('delete', old.piece_id, old.text);"
    " INSERT INTO search_words (rowid, text) VALUES (new.piece_id, new.text); END",
)
POSTGRESQL = (
    "CREATE EXTENSION IF NOT EXISTS pg_trgm",
    "CREATE INDEX ix_search_text ON search USING gin (text gin_trgm_ops)",
)


def upgrade() -> None:
    """Where the engine lacks the means, pieces are found without an index."""
    connection = op.get_bind()
    statements = SQLITE if connection.dialect.name == "sqlite" else POSTGRESQL
    try:
        with connection.begin_nested():
            for statement in statements:
                connection.exec_driver_sql(statement)
    except sa.exc.DBAPIError:
        return
