"""The application on a fresh database, as a client on the same machine sees it.

The database is an embedded file, or one on the server of MIDLIMIT_TEST_DATABASE_URL.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import replace

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from server.app import create_app
from server.records.database import Database
from server.settings import Settings
from tests.conftest import Clock
from tests.postgres import fresh_database, server_url
from tests.web.lan import LAN, TABLET, Guest
from tests.web.workshop import BASE_URL, LOOPBACK, Workshop


@pytest.fixture
def settings(settings: Settings) -> Iterator[Settings]:
    if not server_url():
        yield settings
        return
    with fresh_database() as url:
        yield replace(settings, database_url=url)


@pytest.fixture
def client(settings: Settings, database: Database) -> Iterator[TestClient]:
    app = create_app(settings, database)
    with TestClient(app, base_url=BASE_URL, client=LOOPBACK) as opened:
        yield opened


@pytest.fixture
def shop(client: TestClient, clock: Clock) -> Workshop:
    return Workshop(client, clock)


@pytest.fixture
def shared_app(settings: Settings, database: Database) -> FastAPI:
    shared = replace(settings, share=True, host="0.0.0.0", allowed_hosts=("lathe.shop",))
    return create_app(shared, database)


@pytest.fixture
def host(shared_app: FastAPI) -> Iterator[TestClient]:
    """The machine that a shared Midlimit runs on."""
    with TestClient(shared_app, base_url=BASE_URL, client=LOOPBACK) as opened:
        yield opened


@pytest.fixture
def guest(shared_app: FastAPI, host: TestClient) -> Iterator[Guest]:
    """Makes clients that come from another machine of the shop network."""
    assert host
    with ExitStack() as opened:

        def come(address: str = TABLET, base_url: str = LAN) -> TestClient:
            found = TestClient(
                shared_app, base_url=base_url, client=(address, 40000), follow_redirects=False
            )
            opened.callback(found.close)
            return found

        yield come
