"""devices, pairing codes, and the device in the audit trail"""

import sqlalchemy as sa
import sqlmodel
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    text = sqlmodel.sql.sqltypes.AutoString
    op.create_table(
        "device",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", text(), nullable=False),
        sa.Column("initials", text(), nullable=False),
        sa.Column("role", text(), nullable=False),
        sa.Column("token_hash", text(), nullable=False),
        sa.Column("paired_at", text(), nullable=False),
        sa.Column("seen_at", text(), nullable=False),
        sa.Column("ended_at", text(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_device")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_device_token_hash")),
    )
    op.create_table(
        "pairing",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("salt", text(), nullable=False),
        sa.Column("code_hash", text(), nullable=False),
        sa.Column("role", text(), nullable=False),
        sa.Column("made_at", text(), nullable=False),
        sa.Column("expires_at", text(), nullable=False),
        sa.Column("tries_left", sa.Integer(), nullable=False),
        sa.Column("ended_at", text(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pairing")),
    )
    op.add_column("audit", sa.Column("device", text(), nullable=False, server_default=""))
