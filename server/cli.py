"""The command line."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence

from server import __version__
from server.settings import settings_from


def parser() -> argparse.ArgumentParser:
    top = argparse.ArgumentParser(prog="midlimit", description="Midlimit, beside a manual lathe.")
    top.add_argument("--version", action="version", version=f"midlimit {__version__}")
    commands = top.add_subparsers(dest="command", required=True)
    serve = commands.add_parser("serve", help="start the server")
    serve.add_argument("--host", default="127.0.0.1", help="address to listen on (127.0.0.1)")
    serve.add_argument("--port", type=int, default=8020, help="port to listen on (8020)")
    serve.add_argument("--data-dir", help="folder of the embedded database")
    serve.add_argument("--database-url", help="another database, as postgresql+psycopg://…")
    serve.add_argument(
        "--demo", action="store_true", help="fill an empty database with an invented workshop"
    )
    return top


def serve(arguments: argparse.Namespace) -> int:
    import uvicorn

    from server.app import create_app
    from server.demo import fill_if_empty
    from server.records.database import DatabaseRefused, open_database

    settings = settings_from(
        dict(os.environ),
        data_dir=arguments.data_dir,
        database_url=arguments.database_url,
        host=arguments.host,
        port=arguments.port,
    )
    try:
        database = open_database(settings)
    except DatabaseRefused as refusal:
        print(f"midlimit: {refusal}", file=sys.stderr)
        return 1
    if arguments.demo:
        print(fill_if_empty(database, settings))
    print(f"Midlimit {__version__} on {database.engine_version}")
    print(f"Open http://{settings.host}:{settings.port}/")
    uvicorn.run(
        create_app(settings, database),
        host=settings.host,
        port=settings.port,
        log_level="warning",
        timeout_graceful_shutdown=5,
    )
    return 0


def main(arguments: Sequence[str] | None = None) -> int:
    chosen = parser().parse_args(arguments)
    return serve(chosen)
