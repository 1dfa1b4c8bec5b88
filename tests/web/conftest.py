"""The application on a fresh database, as a client on the same machine sees it.

The database is an embedded file, or one on the server of MIDLIMIT_TEST_DATABASE_URL.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from hypothesis import HealthCheck
from hypothesis import settings as trying

from server.app import create_app
from server.records.database import Database, open_database
from server.settings import Settings
from tests.conftest import Clock
from tests.postgres import fresh_database, server_url
from tests.web.lan import LAN, TABLET, Guest
from tests.web.workshop import BASE_URL, LOOPBACK, Job, Workshop

modest = trying(
    max_examples=15,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)


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


@dataclass(frozen=True)
class World:
    """One application for all the examples of a test; each example makes its own part."""

    shop: Workshop
    database: Database


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    clock = Clock()
    told = Settings(data_dir=Path(tmp_path_factory.mktemp("properties")), clock=clock)
    database = open_database(told)
    with TestClient(create_app(told, database), base_url=BASE_URL, client=LOOPBACK) as client:
        yield World(Workshop(client, clock), database)


def the_job(world: World) -> Job:
    """A fresh piece of one part, so that histories stay short."""
    shop = world.shop
    if not hasattr(shop, "one_job"):
        shop.one_job = shop.job("25 ±0.5", "mm")  # type: ignore[attr-defined]
    job: Job = shop.one_job  # type: ignore[attr-defined]
    return Job(shop, job.part_id, job.feature_id, shop.piece(job.part_id), "mm")
