"""A part copied with its features and set-up."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Request
from fastapi.responses import Response

from server.logbook.problems import Refused
from server.logbook.repeat import copy_part
from server.pages.forms import Fields
from server.pages.parts import part_page
from server.pages.render import book, problems_of, see_other

router = APIRouter()
Id = Annotated[int, Path(ge=1, le=2**31 - 1)]


@router.post("/parts/{part_id}/copy")
def post_copy(request: Request, part_id: Id, fields: Fields) -> Response:
    try:
        with book(request).writing() as (session, now):
            name, number = fields.get("name", ""), fields.get("number", "")
            copied = copy_part(session, part_id, name, number, now).id
    except Refused as refused:
        if refused.status == 404:
            raise
        typed = {"form": "copy"} | fields
        return part_page(request, part_id, typed, problems_of(refused.problems), refused.status)
    return see_other(f"/parts/{copied}")
