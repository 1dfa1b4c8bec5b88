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
    serve.add_argument(
        "--share", action="store_true", help="let paired devices in from the shop network"
    )
    serve.add_argument(
        "--allow-host",
        action="append",
        default=[],
        metavar="NAME",
        help="another name this machine is called by; may be repeated",
    )
    serve.add_argument("--certificate", metavar="FILE", help="serve https with this certificate")
    serve.add_argument("--key", metavar="FILE", help="the certificate's private key")
    serve.add_argument(
        "--self-signed", action="store_true", help="serve https with a certificate made here"
    )
    pair = commands.add_parser("pair", help="make a pairing code on the server that runs here")
    pair.add_argument("--role", default="log", choices=("look", "log", "manage"))
    pair.add_argument("--port", type=int, default=8020, help="the server's port (8020)")
    pair.add_argument("--https", action="store_true", help="the server speaks https")
    return top


def serve(arguments: argparse.Namespace) -> int:
    import uvicorn

    from server.app import create_app
    from server.demo import fill_if_empty
    from server.records.database import DatabaseRefused, open_database
    from server.sharing.certificates import CertificateRefused
    from server.sharing.start import sharing_lines, with_certificate

    settings = settings_from(
        dict(os.environ),
        data_dir=arguments.data_dir,
        database_url=arguments.database_url,
        host=arguments.host,
        port=arguments.port,
        share=arguments.share,
        allowed_hosts=arguments.allow_host,
        certificate=arguments.certificate,
        key=arguments.key,
        self_signed=arguments.self_signed,
    )
    try:
        settings = with_certificate(settings)
        database = open_database(settings)
    except (DatabaseRefused, CertificateRefused) as refusal:
        print(f"midlimit: {refusal}", file=sys.stderr)
        return 1
    if arguments.demo:
        print(fill_if_empty(database, settings))
    print(f"Midlimit {__version__} on {database.engine_version}")
    lines = sharing_lines(settings, database, shows_code=sys.stdout.isatty())
    print("\n".join(lines), flush=True)
    uvicorn.run(
        create_app(settings, database),
        host=settings.host,
        port=settings.port,
        ssl_certfile=settings.certificate,
        ssl_keyfile=settings.key,
        proxy_headers=False,  # a client's address is the one it comes from, whatever it says
        server_header=False,
        access_log=False,
        log_level="warning",
        timeout_graceful_shutdown=5,
    )
    return 0


def main(arguments: Sequence[str] | None = None) -> int:
    chosen = parser().parse_args(arguments)
    if chosen.command == "pair":
        from server.sharing.start import code_from_running_server

        lines, is_made = code_from_running_server(chosen.role, chosen.port, chosen.https)
        print(lines, file=sys.stdout if is_made else sys.stderr)
        return 0 if is_made else 1
    return serve(chosen)
