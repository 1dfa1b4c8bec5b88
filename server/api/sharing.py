"""Sharing through the API: codes, devices, and pairing a program that runs elsewhere."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Request, Response
from pydantic import Field

from server.api.asked import Id, book
from server.api.schemas import ERROR, Body, ErrorOut
from server.logbook.problems import refuse
from server.records.tables import DeviceRow
from server.sharing import network, pairing
from server.sharing.admission import hand_over, let_in

router = APIRouter(prefix="/api")
Short = Annotated[str, Field(max_length=200)]
DENIED: dict[int | str, dict[str, Any]] = {
    403: {"model": ErrorOut, "description": "From another site, or the code is not in force"},
    429: {"model": ErrorOut, "description": "Too many wrong codes; Retry-After says how long"},
}


class CodeIn(Body):
    role: Literal["look", "log", "manage"] = "log"


class PairIn(Body):
    code: Short
    name: Short
    initials: Short = ""


def device_json(row: DeviceRow) -> dict[str, Any]:
    return {
        "id": row.id,
        "name": row.name,
        "initials": row.initials,
        "role": row.role,
        "paired_at": row.paired_at,
        "seen_at": row.seen_at,
        "ended_at": row.ended_at,
    }


@router.get("/sharing", responses=ERROR)
def get_sharing(request: Request) -> dict[str, Any]:
    settings = book(request).settings
    with book(request).reading() as session:
        found = [device_json(row) for row in pairing.devices(session)]
    urls = network.share_urls(settings) if settings.is_shared else ()
    return {"is_shared": settings.is_shared, "urls": list(urls), "devices": found}


@router.post("/sharing/codes", status_code=201, responses=ERROR)
def post_code(request: Request, body: CodeIn) -> dict[str, Any]:
    """A fresh pairing code, answered to this machine only; it ends the one before."""
    settings = book(request).settings
    if not settings.is_shared:
        raise refuse(409, "not_shared", "Sharing is off: start Midlimit with --share first.")
    with book(request).writing() as (session, now):
        made = pairing.make_code(session, body.role, now)
    return {
        "code": made.code,
        "role": made.role.word,
        "expires_at": made.expires_at,
        "urls": list(network.share_urls(settings)),
    }


@router.post("/sharing/devices/{device_id}/end", responses=ERROR)
def post_end(request: Request, device_id: Id) -> dict[str, Any]:
    with book(request).writing() as (session, now):
        row = pairing.end_device(session, device_id, now)
    return device_json(row)


@router.post("/pair", status_code=201, responses=ERROR | DENIED)
def post_pair(request: Request, response: Response, body: PairIn) -> dict[str, Any]:
    """Pairs whoever asks; the token comes back as a cookie to send with every later request."""
    address = request.client.host if request.client else ""
    new = pairing.NewDevice(body.name, body.initials)
    paired = let_in(book(request), request.app.state.pace, address, body.code, new)
    hand_over(response, paired.token, is_https=request.scope.get("scheme") == "https")
    return device_json(paired.device)
