"""The web application: routers, error answers and static files put together."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from anyio import to_thread
from fastapi import FastAPI
from fastapi.middleware.gzip import GZipMiddleware
from fastapi.staticfiles import StaticFiles

from server import __version__
from server.api import errors
from server.api.routes import router as api
from server.api.sharing import router as sharing_api
from server.guard import Guard
from server.logbook.book import Logbook
from server.pages.install import install_pages
from server.pages.render import error_page
from server.records.database import Database
from server.settings import LOOPBACK_NAMES, Settings, resource_dir
from server.sharing.caller import Door
from server.sharing.network import allowed_hosts
from server.sharing.pace import Pace

THREADS = 4  # requests wait for the processor far more than for the disk


def create_app(settings: Settings, database: Database) -> FastAPI:
    """One application on one open database, which it closes when it stops."""

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        to_thread.current_default_thread_limiter().total_tokens = THREADS
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
    logbook = Logbook(database, settings)
    app.state.logbook = logbook
    app.state.pace = Pace()
    app.include_router(api)
    app.include_router(sharing_api)
    install_pages(app, logbook.space_warning)
    files = StaticFiles(directory=resource_dir("static"))
    app.mount("/static", GZipMiddleware(files, compresslevel=6), name="static")
    app.add_middleware(
        Guard,
        hosts=LOOPBACK_NAMES | allowed_hosts(settings),
        is_shared=settings.is_shared,
        door=Door(logbook),
        answer=errors.install(app, error_page),
        wants_json=errors.wants_json,
    )
    return app
