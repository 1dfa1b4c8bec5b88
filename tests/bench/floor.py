"""The floor that logging a reading is measured against: one durable insert and a 1 kB page.

Plain uvicorn, a bare `def` handler, one connection behind a lock, WAL with full durability.

    python -m tests.bench.floor PORT FILE
"""

from __future__ import annotations

import sqlite3
import sys
import threading

import uvicorn
from fastapi import FastAPI
from fastapi.responses import HTMLResponse

PAGE = "<p>" + "saved " * 170 + "</p>"


def floor_app(file: str) -> FastAPI:
    connection = sqlite3.connect(file, isolation_level=None, check_same_thread=False)
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("CREATE TABLE entry (id INTEGER PRIMARY KEY, value TEXT)")
    lock = threading.Lock()
    app = FastAPI()

    @app.post("/insert")
    def insert() -> HTMLResponse:
        with lock:
            connection.execute("BEGIN IMMEDIATE")
            connection.execute("INSERT INTO entry (value) VALUES ('0.6480')")
            connection.execute("COMMIT")
        return HTMLResponse(PAGE)

    @app.get("/ready")
    def ready() -> str:
        return "ready"

    return app


if __name__ == "__main__":
    uvicorn.run(floor_app(sys.argv[2]), port=int(sys.argv[1]), log_level="warning")
