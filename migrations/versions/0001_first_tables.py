"""first tables"""

import sqlalchemy as sa
import sqlmodel
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "audit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("who", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("action", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("about", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_audit")),
    )
    op.create_table(
        "instrument",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("unit", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("resolution", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("max_error", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("last_checked", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("due", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("retired_at", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_instrument")),
    )
    op.create_table(
        "lathe",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("unit", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("cross_slide_counts", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("cross_slide_graduation", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("compound_counts", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("compound_graduation", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("compound_angle_deg", sa.Float(), nullable=False),
        sa.Column("compound_angle_from", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("carriage_graduation", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("retired_at", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lathe")),
    )
    op.create_table(
        "material",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("expansion_low_per_c", sa.Float(), nullable=False),
        sa.Column("expansion_high_per_c", sa.Float(), nullable=False),
        sa.Column("is_metal", sa.Boolean(), nullable=False),
        sa.Column("source", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_material")),
        sa.UniqueConstraint("name", name=op.f("uq_material_name")),
    )
    op.create_table(
        "operator",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("initials", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("name", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_operator")),
        sa.UniqueConstraint("initials", name=op.f("uq_operator_initials")),
    )
    op.create_table(
        "part",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("number", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("material", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("unit", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("created_at", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part")),
    )
    with op.batch_alter_table("part", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_part_name"), ["name"], unique=False)
        batch_op.create_index(batch_op.f("ix_part_number"), ["number"], unique=False)

    op.create_table(
        "shop",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("unit", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("decision_rule", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("past_chance_bound", sa.Float(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shop")),
    )
    op.create_table(
        "shop_temperature",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("day", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("value", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("unit", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("celsius", sa.Float(), nullable=False),
        sa.Column("at", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shop_temperature")),
    )
    with op.batch_alter_table("shop_temperature", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_shop_temperature_day"), ["day"], unique=False)

    op.create_table(
        "wire_set",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("unit", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("nominal", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("measured", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("sized", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("retired_at", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_wire_set")),
    )
    op.create_table(
        "feature",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("label", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("designation", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("method", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("unit", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("wire", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("wire_set_id", sa.Integer(), nullable=True),
        sa.Column("aim", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("slide", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("lathe_id", sa.Integer(), nullable=False),
        sa.Column("instrument_id", sa.Integer(), nullable=False),
        sa.Column("tool_shape", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("tool_size", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("crest_diameter", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("compound_angle_deg", sa.Float(), nullable=True),
        sa.Column("compound_angle_from", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("rule", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("created_at", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name=op.f("fk_feature_instrument_id_instrument")
        ),
        sa.ForeignKeyConstraint(["lathe_id"], ["lathe.id"], name=op.f("fk_feature_lathe_id_lathe")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_feature_part_id_part")),
        sa.ForeignKeyConstraint(
            ["wire_set_id"], ["wire_set.id"], name=op.f("fk_feature_wire_set_id_wire_set")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_feature")),
    )
    with op.batch_alter_table("feature", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_feature_designation"), ["designation"], unique=False)
        batch_op.create_index(batch_op.f("ix_feature_part_id"), ["part_id"], unique=False)

    op.create_table(
        "piece",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("serial", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("opened_at", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("closed_as", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_piece_part_id_part")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_piece")),
    )
    with op.batch_alter_table("piece", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_piece_closed_as"), ["closed_as"], unique=False)
        batch_op.create_index(batch_op.f("ix_piece_part_id"), ["part_id"], unique=False)

    op.create_table(
        "zero_check",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("instrument_id", sa.Integer(), nullable=False),
        sa.Column("value", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("unit", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("value_mm", sa.Float(), nullable=False),
        sa.Column("operator", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("at", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.ForeignKeyConstraint(
            ["instrument_id"],
            ["instrument.id"],
            name=op.f("fk_zero_check_instrument_id_instrument"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_zero_check")),
    )
    with op.batch_alter_table("zero_check", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_zero_check_instrument_id"), ["instrument_id"], unique=False
        )

    op.create_table(
        "closing",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("closed_as", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("decision_rule", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("initials", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("reason", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("verdicts", sa.Text(), nullable=False),
        sa.Column("at", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_closing_piece_id_piece")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_closing")),
    )
    with op.batch_alter_table("closing", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_closing_piece_id"), ["piece_id"], unique=False)

    op.create_table(
        "entry",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("feature_id", sa.Integer(), nullable=True),
        sa.Column("type", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("entry_key", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("at", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("operator", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("value", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("unit", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("value_mm", sa.Float(), nullable=True),
        sa.Column("dial_step", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("dial_step_unit", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("dial_step_mm", sa.Float(), nullable=True),
        sa.Column("slide", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("temperature", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("temperature_unit", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("temperature_c", sa.Float(), nullable=True),
        sa.Column("touch", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("instrument_temperature_c", sa.Float(), nullable=True),
        sa.Column("instrument_id", sa.Integer(), nullable=True),
        sa.Column("wire", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("wire_mm", sa.Float(), nullable=True),
        sa.Column("station", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("event", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("gauge_result", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.ForeignKeyConstraint(
            ["feature_id"], ["feature.id"], name=op.f("fk_entry_feature_id_feature")
        ),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name=op.f("fk_entry_instrument_id_instrument")
        ),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_entry_piece_id_piece")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_entry")),
        sa.UniqueConstraint("entry_key", name=op.f("uq_entry_entry_key")),
    )
    with op.batch_alter_table("entry", schema=None) as batch_op:
        batch_op.create_index("ix_entry_piece_id_id", ["piece_id", "id"], unique=False)

    op.create_table(
        "learned",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("lathe_id", sa.Integer(), nullable=False),
        sa.Column("material", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("cut", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("feature_id", sa.Integer(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("at", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.ForeignKeyConstraint(
            ["feature_id"], ["feature.id"], name=op.f("fk_learned_feature_id_feature")
        ),
        sa.ForeignKeyConstraint(["lathe_id"], ["lathe.id"], name=op.f("fk_learned_lathe_id_lathe")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_learned_piece_id_piece")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_learned")),
    )
    with op.batch_alter_table("learned", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_learned_lathe_id"), ["lathe_id"], unique=False)

    op.create_table(
        "answer",
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("core_version", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("size_mm", sa.Float(), nullable=True),
        sa.Column("doubt_mm", sa.Float(), nullable=True),
        sa.Column("size_low_mm", sa.Float(), nullable=True),
        sa.Column("size_high_mm", sa.Float(), nullable=True),
        sa.Column("verdict", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("warm_state", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("landing_low_mm", sa.Float(), nullable=True),
        sa.Column("landing_expected_mm", sa.Float(), nullable=True),
        sa.Column("landing_high_mm", sa.Float(), nullable=True),
        sa.Column("body", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name=op.f("fk_answer_entry_id_entry")),
        sa.PrimaryKeyConstraint("entry_id", name=op.f("pk_answer")),
    )
    op.create_table(
        "strike",
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("reason", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("operator", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("at", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name=op.f("fk_strike_entry_id_entry")),
        sa.PrimaryKeyConstraint("entry_id", name=op.f("pk_strike")),
    )
