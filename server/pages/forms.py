"""Plain forms read as text by name; nothing is turned into a number here."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Request

from server.logbook.problems import refuse
from server.wording import say

MOST_FIELDS = 80
LONGEST_FIELD = 8000
CHOOSE = {
    "feature_id": say("Choose a feature."),
    "entry_id": say("Choose an entry."),
    "instrument_id": say("Choose an instrument."),
    "wire_set_id": say("Choose a wire set."),
    "lathe_id": say("Choose a lathe."),
    "part_id": say("Choose a part."),
}


async def form_fields(request: Request) -> dict[str, str]:
    """Every field as typed; the last one where a name comes twice.  Refused for files."""
    form = await request.form(max_fields=MOST_FIELDS, max_files=0)
    fields: dict[str, str] = {}
    for name, value in form.multi_items():
        if not isinstance(value, str):
            raise refuse(422, "no_files", say("Files are not taken here."), name)
        if len(value) > LONGEST_FIELD:
            message = say(
                "That is {length} characters; {most} fit.", length=len(value), most=LONGEST_FIELD
            )
            raise refuse(422, "too_long", message, name)
        fields[name] = value
    return fields


Fields = Annotated[dict[str, str], Depends(form_fields)]


def row_number(fields: dict[str, str], name: str) -> int:
    """The number of a stored row picked in a form; Refused where none was."""
    text = fields.get(name, "").strip()
    if text.isascii() and text.isdigit() and 0 < int(text[:12]) < 2**31:
        return int(text)
    raise refuse(422, "missing", CHOOSE[name], name)


def optional_number(fields: dict[str, str], name: str) -> int | None:
    return row_number(fields, name) if fields.get(name, "").strip() else None


def wants_fragment(request: Request) -> bool:
    return request.headers.get("hx-request") == "true"
