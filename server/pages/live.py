"""Keeps an open screen current: what was logged elsewhere, and a start without the server."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from typing import Annotated

from fastapi import APIRouter, Path, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import FileResponse, Response, StreamingResponse

from server.logbook.replay import change_mark
from server.logbook.setup import piece_of
from server.pages.render import book
from server.settings import resource_dir

router = APIRouter()
LOOK_EVERY_S = 0.7
SAY_ALIVE_EVERY = 20  # looks


@router.get("/sw.js")
def get_service_worker() -> Response:
    """From the root, since a service worker serves only what lies below it."""
    return FileResponse(resource_dir("static") / "sw.js", media_type="text/javascript")


@router.get("/pieces/{piece_id}/events-stream")
async def get_stream(
    request: Request, piece_id: Annotated[int, Path(ge=1, le=2**31 - 1)]
) -> Response:
    """Server-sent events: `changed` with a mark whenever the piece's log has changed."""

    def mark() -> str:
        with book(request).reading() as session:
            piece_of(session, piece_id)
            return change_mark(session, piece_id)

    first = await run_in_threadpool(mark)

    async def events() -> AsyncIterator[str]:
        known, looks = first, 0
        yield f"retry: 2000\nevent: hello\ndata: {known}\n\n"
        while not await request.is_disconnected():
            await asyncio.sleep(LOOK_EVERY_S)
            if getattr(request.app.state, "is_stopping", False):
                return
            now, looks = await run_in_threadpool(mark), looks + 1
            if now != known:
                known = now
                yield f"event: changed\ndata: {known}\n\n"
            elif looks % SAY_ALIVE_EVERY == 0:
                yield ": still here\n\n"

    return StreamingResponse(
        events(), media_type="text/event-stream", headers={"cache-control": "no-store"}
    )
