"""Every page put on the application."""

from __future__ import annotations

from collections.abc import Callable

from fastapi import FastAPI

from server.pages import (
    crib,
    guide,
    history,
    lathe,
    live,
    lots,
    parts,
    record,
    repeat,
    rework,
    sharing,
    shop,
    targets,
    view_render,
    working,
)


def install_pages(app: FastAPI, space_warning: Callable[[], str]) -> None:
    app.state.templates = view_render.Templates(space_warning)
    for screen in (
        parts,
        guide,
        targets,
        lathe,
        history,
        crib,
        shop,
        sharing,
        live,
        working,
        lots,
        repeat,
        record,
        rework,
    ):
        app.include_router(screen.router, include_in_schema=False)
