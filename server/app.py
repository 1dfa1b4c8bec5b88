"""The web application: routers, error answers and static files put together."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles

from server import __version__
from server.api import errors
from server.api.routes import router as api
from server.guard import LOOPBACK_NAMES, Guard
from server.logbook.book import Logbook
from server.pages.install import install_pages
from server.pages.render import error_page
from server.records.database import Database
from server.settings import Settings, resource_dir


def create_app(settings: Settings, database: Database) -> FastAPI:
    """One application on one open database, which it closes when it stops."""

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        yield
        database.close()

    app = FastAPI(
        title="Midlimit",
        version=__version__,
        lifespan=lifespan,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
    )
    app.state.logbook = Logbook(database, settings)
    app.include_router(api)
    install_pages(app)
    app.mount("/static", StaticFiles(directory=resource_dir("static")), name="static")
    errors.install(app, error_page)
    app.add_middleware(
        Guard, hosts=LOOPBACK_NAMES | {settings.host.lower()} | set(settings.allowed_hosts)
    )
    return app
