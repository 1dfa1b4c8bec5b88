"""What every JSON route asks of a request."""

from __future__ import annotations

from typing import Annotated

from fastapi import Path, Request

from server.logbook.book import Logbook

Id = Annotated[int, Path(ge=1, le=2**31 - 1)]


def book(request: Request) -> Logbook:
    found: Logbook = request.app.state.logbook
    return found
