"""The language of the screens, chosen for one device."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from server.logbook.problems import refuse
from server.pages.forms import Fields
from server.pages.language import LANGUAGES
from server.pages.render import see_other
from server.wording import either, say

router = APIRouter()
A_YEAR_S = 365 * 24 * 3600


@router.post("/language")
def post_language(request: Request, fields: Fields) -> Response:
    language = fields.get("language", "")
    if language not in LANGUAGES:
        words = say("Choose {languages}.", languages=either(LANGUAGES.values()))
        raise refuse(422, "not_a_choice", words, "language")
    answer = see_other("/shop")
    answer.set_cookie(
        "language",
        language,
        max_age=A_YEAR_S,
        httponly=True,
        samesite="lax",
        secure=request.url.scheme == "https",
    )
    return answer
