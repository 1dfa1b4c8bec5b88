"""The application on a fresh database file, as a client on the same machine sees it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from server.app import create_app
from server.records.database import Database
from server.settings import Settings
from tests.conftest import Clock
from tests.web.workshop import BASE_URL, LOOPBACK, Workshop


@pytest.fixture
def client(settings: Settings, database: Database) -> Iterator[TestClient]:
    app = create_app(settings, database)
    with TestClient(app, base_url=BASE_URL, client=LOOPBACK) as opened:
        yield opened


@pytest.fixture
def shop(client: TestClient, clock: Clock) -> Workshop:
    return Workshop(client, clock)
