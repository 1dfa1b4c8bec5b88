"""What the database says when it can't carry something out, in one word each."""

from __future__ import annotations

from enum import StrEnum
from typing import Any

from sqlalchemy.exc import DBAPIError, InterfaceError, OperationalError

SQLITE_WORDS = {
    5: "busy",
    6: "busy",
    8: "read_only",
    10: "disk_fault",
    11: "damaged",
    13: "disk_full",
    14: "gone",
    23: "read_only",
    26: "damaged",
}
POSTGRESQL_WORDS = {
    "53100": "disk_full",
    "25006": "read_only",
    "40001": "busy",
    "40P01": "busy",
    "55P03": "busy",
    "XX001": "damaged",
    "XX002": "damaged",
}


class Fault(StrEnum):
    """Of the place where the records are kept, not of the request."""

    DISK_FULL = "disk_full"
    DISK_FAULT = "disk_fault"
    READ_ONLY = "read_only"
    BUSY = "busy"
    DAMAGED = "damaged"
    GONE = "gone"


def fault_of(error: DBAPIError) -> Fault | None:
    """None where the fault lies in what was asked."""
    cause: Any = error.orig
    code = getattr(cause, "sqlite_errorcode", None)
    if code is not None:
        word = SQLITE_WORDS.get(code & 0xFF)
        return Fault(word) if word else None
    state = getattr(cause, "sqlstate", None)
    if state in POSTGRESQL_WORDS:
        return Fault(POSTGRESQL_WORDS[state])
    is_cut_off = error.connection_invalidated or (state or "")[:2] in ("08", "57", "53")
    if is_cut_off or (state is None and isinstance(error, (OperationalError, InterfaceError))):
        return Fault.GONE
    return None
