"""The log: one JSON object a line on standard error, without bodies, queries or secrets."""

from __future__ import annotations

import json
import logging
import sys
import time
from datetime import UTC, datetime
from typing import Any

from starlette.types import ASGIApp, Message, Receive, Scope, Send

ACCESS = logging.getLogger("midlimit.requests")
QUIET_PATHS = ("/static/",)


class JsonLines(logging.Formatter):
    """at, level, about, message, then what the record carries as `fields` and its fault."""

    def format(self, record: logging.LogRecord) -> str:
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        line: dict[str, Any] = {
            "at": at.replace("+00:00", "Z"),
            "level": record.levelname.lower(),
            "about": record.name,
            "message": record.getMessage(),
        }
        line |= getattr(record, "fields", {})
        if record.exc_info:
            line["fault"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=False)


def set_up(level: str) -> None:
    """Everything that Midlimit and its server say, in one form."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(JsonLines())
    logging.basicConfig(level=logging.WARNING, handlers=[handler], force=True)
    logging.getLogger("midlimit").setLevel(level.upper())


class RequestLog:
    """ASGI middleware: one line a request.  The path without its query; never a body."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        is_told = scope["type"] == "http" and not scope["path"].startswith(QUIET_PATHS)
        if not is_told or not ACCESS.isEnabledFor(logging.INFO):
            await self.app(scope, receive, send)
            return
        began, status = time.perf_counter(), 500

        async def noting(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        try:
            await self.app(scope, receive, noting)
        finally:
            fields = {
                "method": scope["method"],
                "path": scope["path"],
                "status": status,
                "ms": round((time.perf_counter() - began) * 1000, 1),
                "from": scope["client"][0] if scope.get("client") else "",
            }
            ACCESS.info("request", extra={"fields": fields})
