"""each dial step keeps what it meant on the size, so that a new set-up leaves old cuts alone"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("entry") as batch:
        batch.add_column(sa.Column("size_step_mm", sa.Float(), nullable=True))
