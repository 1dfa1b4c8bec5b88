"""Every page put on the application."""

from __future__ import annotations

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
from server.settings import resource_dir


def install_pages(app: FastAPI) -> None:
    app.state.templates = view_render.environment(resource_dir("templates"), resource_dir("static"))
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
