"""What is said where the records can't be read or written: in words, and never a lost reading."""

from __future__ import annotations

from sqlalchemy.exc import DBAPIError

from server.logbook.problems import Refused, refuse
from server.records.faults import Fault, fault_of
from server.wording import joined, say

KEPT = say("NOT saved. What you typed is still here.")
WORDS = {
    Fault.DISK_FULL: say(
        "The disk that holds the records is full. Free some space, then log it again."
    ),
    Fault.DISK_FAULT: say(
        "The disk that holds the records reports a fault. Try again; if it stays, stop, and "
        "restore the last backup on a sound disk."
    ),
    Fault.READ_ONLY: say("The records can't be written: their file or folder is read-only."),
    Fault.BUSY: say("Another program holds the records. Close it, then log it again."),
    Fault.DAMAGED: say(
        "The database is damaged. Stop, keep its file, and restore the last backup."
    ),
    Fault.GONE: say("The database does not answer."),
}


def unsaved(error: DBAPIError) -> Refused | None:
    """For a write that the database did not carry out; None where the fault is not its own."""
    fault = fault_of(error)
    if fault is None:
        return None
    status = 507 if fault is Fault.DISK_FULL else 503
    return refuse(status, fault.value, joined((KEPT, WORDS[fault]), " "))


def unread(error: DBAPIError) -> Refused | None:
    """For a read that failed; None where the fault is not the database's own."""
    fault = fault_of(error)
    return None if fault is None else refuse(503, fault.value, WORDS[fault])
