"""how repeat readings with each instrument scattered on finished pieces"""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

REFERENCES = ("instrument", "piece", "feature")


def upgrade() -> None:
    op.create_table(
        "scatter",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("instrument_id", sa.Integer(), nullable=False),
        sa.Column("method", sa.String(), nullable=False),
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("feature_id", sa.Integer(), nullable=False),
        sa.Column("squares_mm2", sa.Float(), nullable=False),
        sa.Column("dof", sa.Float(), nullable=False),
        sa.Column("at", sa.String(), nullable=False),
        *(
            sa.ForeignKeyConstraint(
                [f"{table}_id"], [f"{table}.id"], name=op.f(f"fk_scatter_{table}_id_{table}")
            )
            for table in REFERENCES
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_scatter")),
    )
    op.create_index("ix_scatter_piece_id", "scatter", ["piece_id"])
    op.create_index("ix_scatter_instrument_id_method", "scatter", ["instrument_id", "method"])
