"""One run of the server: its hold on the data folder, its backups, its log and its stop."""

from __future__ import annotations

import gc
import logging
import signal
import sys
import threading
from collections.abc import Callable
from types import FrameType

import uvicorn
from fastapi import FastAPI

from server import __version__
from server.app import create_app
from server.demo import fill_if_empty
from server.operate.backup import back_up
from server.operate.hold import Hold
from server.operate.log import RequestLog, set_up
from server.operate.schedule import schedule_for
from server.pages.language import ENGLISH
from server.pages.view_render import get_ready
from server.records.database import Database, open_database, sqlite_file, update_awaits
from server.records.space import low_space
from server.settings import Settings
from server.sharing.start import sharing_lines, with_certificate

STREAMS_END_S = 2
COLLECT_AFTER = 50_000  # new objects; a request makes some thousands, most of them short-lived
log = logging.getLogger("midlimit.operate")


def rest_the_collector() -> None:
    """What start-up made stays: the garbage collector need not walk it while requests wait."""
    gc.freeze()
    gc.set_threshold(COLLECT_AFTER, 20, 50)


class GracefulServer(uvicorn.Server):
    """Ends open event streams when it is asked to stop, and comes back to its caller then."""

    def __init__(self, config: uvicorn.Config, app: FastAPI) -> None:
        super().__init__(config)
        self.app = app

    def handle_exit(self, sig: int, _frame: FrameType | None) -> None:
        """Instead of uvicorn's own, which would end the process by the signal afterwards."""
        self.app.state.is_stopping = True
        self.force_exit = self.should_exit and sig == signal.SIGINT
        self.should_exit = True


class Serving:
    """Everything between the start of `midlimit serve` and its end."""

    def __init__(
        self, settings: Settings, tell: Callable[[str], None], *, wants_demo: bool = False
    ) -> None:
        self.settings = settings
        self.tell = tell
        self.wants_demo = wants_demo

    @property
    def is_embedded(self) -> bool:
        return self.settings.url.startswith("sqlite")

    def run(self) -> int:
        """Serve until asked to stop.

        Raises FolderHeld, DatabaseRefused, BackupRefused or CertificateRefused.
        """
        set_up(self.settings.log)
        hold = Hold(sqlite_file(self.settings.url).parent) if self.is_embedded else None
        try:
            self.settings = with_certificate(self.settings)
            self.back_up_before_update()
            database = open_database(self.settings)
            self.say_hello(database)
            self.serve(database)
        finally:
            if hold is not None:
                hold.let_go()
        return 0

    def back_up_before_update(self) -> None:
        """A database of an older release is backed up before its schema is changed."""
        if self.is_embedded and update_awaits(self.settings):
            folder = self.settings.backup_folder
            folder.mkdir(parents=True, exist_ok=True)
            made = back_up(self.settings, folder, self.settings.clock())
            self.tell(f"Backed up to {made.file} before the update.")

    def say_hello(self, database: Database) -> None:
        if self.wants_demo:
            self.tell(fill_if_empty(database, self.settings))
        self.tell(f"Midlimit {__version__} on {database.engine_version}")
        warning = low_space(self.settings.data_dir) if self.settings.data_dir.exists() else ""
        if warning:
            log.warning(warning)
        lines = sharing_lines(self.settings, database, shows_code=sys.stdout.isatty())
        self.tell("\n".join(lines))

    def serve(self, database: Database) -> None:
        app = create_app(self.settings, database)
        config = uvicorn.Config(
            RequestLog(app),
            host=self.settings.host,
            port=self.settings.port,
            ssl_certfile=self.settings.certificate,
            ssl_keyfile=self.settings.key,
            proxy_headers=False,  # a client's address is the one it comes from, whatever it says
            server_header=False,
            access_log=False,
            log_config=None,
            timeout_graceful_shutdown=STREAMS_END_S,
        )
        ready = threading.Thread(
            target=get_ready, args=(app.state.templates[ENGLISH],), daemon=True
        )
        ready.start()
        backups = schedule_for(self.settings)
        if backups is not None:
            backups.start()
        rest_the_collector()
        try:
            GracefulServer(config, app).run()
        finally:
            if backups is not None:
                backups.stop()
