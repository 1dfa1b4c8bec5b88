"""Target card: type a designation, see everything at once; put it on a part."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from server.metrology import designation
from server.pages.render import page, theme_of
from server.pages.views import TargetsPage
from server.pages.words import ANGLE_CONVENTIONS, KINDS, UNITS, WIRE_RULES

router = APIRouter()


@router.get("/targets")
def get_targets(request: Request) -> Response:
    view = TargetsPage(
        title="Target card",
        nav="targets",
        theme=theme_of(request),
        examples=designation.EXAMPLES,
        units=UNITS,
        kinds=KINDS,
        rules=WIRE_RULES[1:],
        angle_conventions=ANGLE_CONVENTIONS,
    )
    return page(request, view)
