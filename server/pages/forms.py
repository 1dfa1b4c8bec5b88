"""Plain forms read as text by name; nothing is turned into a number here."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Request

from server.logbook.problems import refuse

MOST_FIELDS = 80
LONGEST_FIELD = 8000


async def form_fields(request: Request) -> dict[str, str]:
    """Every field as typed; the last one where a name comes twice.  Refused for files."""
    form = await request.form(max_fields=MOST_FIELDS, max_files=0)
    fields: dict[str, str] = {}
    for name, value in form.multi_items():
        if not isinstance(value, str):
            raise refuse(422, "no_files", "Files are not taken here.", name)
        if len(value) > LONGEST_FIELD:
            raise refuse(
                422, "too_long", f"That is {len(value)} characters; {LONGEST_FIELD} fit.", name
            )
        fields[name] = value
    return fields


Fields = Annotated[dict[str, str], Depends(form_fields)]


def row_number(fields: dict[str, str], name: str, what: str) -> int:
    """The number of a stored row picked in a form; Refused where none was."""
    text = fields.get(name, "").strip()
    if text.isascii() and text.isdigit() and 0 < int(text[:12]) < 2**31:
        return int(text)
    raise refuse(422, "missing", f"Choose {what}.", name)


def optional_number(fields: dict[str, str], name: str, what: str) -> int | None:
    return row_number(fields, name, what) if fields.get(name, "").strip() else None


def wants_fragment(request: Request) -> bool:
    return request.headers.get("hx-request") == "true"
