"""Who is acting: set once for a request, read where a change is written down."""

from __future__ import annotations

from contextvars import ContextVar
from dataclasses import dataclass


@dataclass(frozen=True)
class Actor:
    """device: the name it was paired under; initials: of whoever usually works at it."""

    device: str
    initials: str = ""


THIS_MACHINE = Actor("this machine")
ACTING: ContextVar[Actor] = ContextVar("acting", default=THIS_MACHINE)


def actor() -> Actor:
    return ACTING.get()
