"""The audit trail: read, never changed."""

from __future__ import annotations

from sqlmodel import Session, col, select

from server.records.tables import AuditRow

MOST_LINES = 100


def trail(session: Session, before: int | None = None) -> list[AuditRow]:
    """The newest lines, or the newest of those before a line's number."""
    lines = select(AuditRow).order_by(col(AuditRow.id).desc()).limit(MOST_LINES)
    if before is not None:
        lines = lines.where(col(AuditRow.id) < before)
    return list(session.exec(lines))
