"""A finished piece opened again from its history."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Request
from fastapi.responses import Response

from server.logbook.rework import rework
from server.pages.forms import Fields
from server.pages.render import book, see_other

router = APIRouter()
Id = Annotated[int, Path(ge=1, le=2**31 - 1)]


@router.post("/pieces/{piece_id}/rework")
def post_rework(request: Request, piece_id: Id, fields: Fields) -> Response:
    with book(request).writing() as (session, now):
        rework(session, piece_id, fields.get("reason", ""), fields.get("initials", ""), now)
    return see_other(f"/pieces/{piece_id}/lathe")
