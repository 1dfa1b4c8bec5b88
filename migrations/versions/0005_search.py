"""one line of text for each finished piece, to find it by"""

from datetime import date

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

CLOSED = "SELECT piece_id, MAX(at) FROM closing GROUP BY piece_id"
FEATURES = "SELECT part_id, designation, label FROM feature ORDER BY id"
PEOPLE = (
    "SELECT DISTINCT piece_id, operator FROM entry WHERE operator <> '' "
    "UNION SELECT piece_id, initials FROM closing WHERE initials <> ''"
)
PIECES = (
    "SELECT piece.id, piece.number, serial, closed_as, part_id, name, part.number, material "
    "FROM piece JOIN part ON part.id = piece.part_id WHERE closed_as <> ''"
)


def upgrade() -> None:
    search = op.create_table(
        "search",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_search_piece_id_piece")),
        sa.PrimaryKeyConstraint("piece_id", name=op.f("pk_search")),
    )
    lines = finished_lines(op.get_bind())
    if lines:
        op.bulk_insert(search, lines)


def finished_lines(connection: sa.Connection) -> list[dict[str, object]]:
    """The line of each piece finished so far, as the program writes it from this version on."""
    closed = dict(tuple(row) for row in connection.execute(sa.text(CLOSED)))
    features: dict[int, list[str]] = {}
    for part_id, designation, label in connection.execute(sa.text(FEATURES)):
        features.setdefault(part_id, []).append(f"{designation} {label}")
    people: dict[int, list[str]] = {}
    for piece_id, initials in connection.execute(sa.text(PEOPLE)):
        people.setdefault(piece_id, []).append(initials)
    lines: list[dict[str, object]] = []
    for (
        piece_id,
        number,
        serial,
        closed_as,
        part_id,
        name,
        part_number,
        material,
    ) in connection.execute(sa.text(PIECES)):
        words = [name, part_number, material, serial, f"piece {number}"]
        words += [*features.get(part_id, []), *sorted(people.get(piece_id, [])), closed_as]
        words.append(day_words(closed.get(piece_id, "")))
        lines.append({"piece_id": piece_id, "text": " ".join(" ".join(words).casefold().split())})
    return lines


def day_words(at: str) -> str:
    if not at:
        return ""
    day = date.fromisoformat(at[:10])
    return f"{day.isoformat()} {day.day} {day:%B %Y}"
