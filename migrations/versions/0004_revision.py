"""one number that counts the changes of the shop, and what the pages of a big one need"""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    revision_table = op.create_table(
        "revision",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_revision")),
    )
    op.bulk_insert(revision_table, [{"id": 1, "number": 0}])
