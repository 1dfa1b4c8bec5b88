"""The command line."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from server import __version__
from server.operate.config import settings_for
from server.settings import Refusal, Settings


def parser() -> argparse.ArgumentParser:
    top = argparse.ArgumentParser(prog="midlimit", description="Midlimit, beside a manual lathe.")
    top.add_argument("--version", action="version", version=f"midlimit {__version__}")
    commands = top.add_subparsers(dest="command", required=True)
    add_serve(commands.add_parser("serve", help="start the server"))
    pair = commands.add_parser("pair", help="make a pairing code on the server that runs here")
    pair.add_argument("--role", default="log", choices=("look", "log", "manage"))
    pair.add_argument("--port", type=int, default=8020, help="the server's port (8020)")
    pair.add_argument("--https", action="store_true", help="the server speaks https")
    add_records(commands)
    return top


def add_place(command: argparse.ArgumentParser) -> None:
    """The options that say where the records are."""
    command.add_argument("--config", metavar="FILE", help="options from a TOML file")
    command.add_argument("--data-dir", help="folder of the embedded database")
    command.add_argument("--database-url", help="another database, as postgresql+psycopg://…")


def add_serve(serve: argparse.ArgumentParser) -> None:
    add_place(serve)
    serve.add_argument("--host", help="address to listen on (127.0.0.1)")
    serve.add_argument("--port", type=int, help="port to listen on (8020)")
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
        dest="allowed_hosts",
        metavar="NAME",
        help="another name this machine is called by; may be repeated",
    )
    serve.add_argument("--certificate", metavar="FILE", help="serve https with this certificate")
    serve.add_argument("--key", metavar="FILE", help="the certificate's private key")
    serve.add_argument(
        "--self-signed", action="store_true", help="serve https with a certificate made here"
    )
    serve.add_argument(
        "--backup-every-hours", type=float, metavar="H", help="backups while serving (24; 0: none)"
    )
    serve.add_argument("--backup-keep", type=int, metavar="N", help="how many are kept (14)")
    serve.add_argument("--backup-dir", metavar="DIR", help="where (backups in the data folder)")
    serve.add_argument("--log", choices=("info", "warning"), help="what goes to the log (info)")


def add_records(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    backup = commands.add_parser("backup", help="back up the embedded database, serving or not")
    add_place(backup)
    backup.add_argument("target", nargs="?", help="a new file, or a folder for a dated one")
    restore = commands.add_parser("restore", help="put a backup in the database's place")
    add_place(restore)
    restore.add_argument("file")
    add_place(commands.add_parser("check", help="is everything sound, and how old is the backup"))
    export = commands.add_parser("export", help="write the whole shop to one JSON file")
    add_place(export)
    export.add_argument("file")
    bring = commands.add_parser("import", help="read an exported shop into an empty database")
    add_place(bring)
    bring.add_argument("file")
    move = commands.add_parser("move", help="copy the shop into another, empty database")
    move.add_argument("--from", dest="source", required=True, metavar="URL")
    move.add_argument("--to", dest="target", required=True, metavar="URL")
    commands.add_parser("config", help="print a configuration file with every option")


def say(line: str) -> None:
    print(line, flush=True)


def settings_of(arguments: argparse.Namespace) -> Settings:
    return settings_for(os.environ, vars(arguments))


def serve(arguments: argparse.Namespace) -> int:
    from server.serving import Serving

    settings = settings_of(arguments)
    return Serving(settings, say, wants_demo=arguments.demo).run()


def pair(arguments: argparse.Namespace) -> int:
    from server.sharing.start import code_from_running_server

    lines, is_made = code_from_running_server(arguments.role, arguments.port, arguments.https)
    print(lines, file=sys.stdout if is_made else sys.stderr)
    return 0 if is_made else 1


def backup(arguments: argparse.Namespace) -> int:
    from server.operate.backup import back_up
    from server.records.space import megabytes

    settings = settings_of(arguments)
    target = Path(arguments.target) if arguments.target else settings.backup_folder
    made = back_up(settings, target, settings.clock())
    print(f"{made.file}: {made.entries} entries, {megabytes(made.size_bytes)}, checked.")
    return 0


def restore(arguments: argparse.Namespace) -> int:
    from server.operate.backup import restore as put_back
    from server.operate.hold import Hold

    settings = settings_of(arguments)
    with Hold(settings.data_dir):
        restored, kept = put_back(settings, Path(arguments.file), settings.clock())
    print(f"Restored {restored.file}: {restored.entries} entries, schema {restored.schema}.")
    if kept is not None:
        print(f"The database it replaced is kept as {kept}.")
    return 0


def check(arguments: argparse.Namespace) -> int:
    from server.operate.check import check as look

    settings = settings_of(arguments)
    found = look(settings, settings.clock())
    for line in found:
        print(f"{'!' if line.is_bad else ' '} {line.what:<12} {line.words}")
    return 1 if any(line.is_bad for line in found) else 0


def export(arguments: argparse.Namespace) -> int:
    from server.operate.transfer import export_shop

    rows = export_shop(settings_of(arguments), Path(arguments.file))
    print(f"{arguments.file}: {rows} rows.")
    return 0


def bring_in(arguments: argparse.Namespace) -> int:
    from server.operate.hold import Hold
    from server.operate.transfer import import_shop

    settings = settings_of(arguments)
    with Hold(settings.data_dir):
        rows = import_shop(settings, Path(arguments.file))
    print(f"{arguments.file}: {rows} rows read in.")
    return 0


def move(arguments: argparse.Namespace) -> int:
    from server.operate.move import move_shop

    for line in move_shop(arguments.source, arguments.target):
        print(line)
    return 0


def config(_arguments: argparse.Namespace) -> int:
    from server.operate.config import sample

    print(sample(), end="")
    return 0


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "serve": serve,
    "pair": pair,
    "backup": backup,
    "restore": restore,
    "check": check,
    "export": export,
    "import": bring_in,
    "move": move,
    "config": config,
}


def main(arguments: Sequence[str] | None = None) -> int:
    """What can't be done is said in one line on standard error, with exit code 1."""
    chosen = parser().parse_args(arguments)
    try:
        return COMMANDS[chosen.command](chosen)
    except Refusal as refusal:
        print(f"midlimit: {refusal}", file=sys.stderr)
        return 1
