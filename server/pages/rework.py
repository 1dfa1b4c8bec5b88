"""A finished piece opened again from its history."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Request
from fastapi.responses import Response

from server.logbook.problems import Refused
from server.logbook.rework import rework
from server.pages import history
from server.pages.forms import Fields
from server.pages.render import book, problems_of, see_other

router = APIRouter()
Id = Annotated[int, Path(ge=1, le=2**31 - 1)]


@router.post("/pieces/{piece_id}/rework")
def post_rework(request: Request, piece_id: Id, fields: Fields) -> Response:
    try:
        with book(request).writing() as (session, now):
            rework(session, piece_id, fields.get("reason", ""), fields.get("initials", ""), now)
    except Refused as refused:
        if refused.status == 404:
            raise
        typed = fields | {"form": "rework"}
        return history.show(request, piece_id, typed, problems_of(refused.problems), refused.status)
    return see_other(f"/pieces/{piece_id}/lathe")
