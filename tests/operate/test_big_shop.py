"""A made-up shop of some size: sound, the same as one that was logged, and read by indexes."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import event, func
from sqlmodel import select

from server.app import create_app
from server.logbook.replay import PieceLog, change_mark
from server.operate.check import check
from server.records.database import Database, open_database
from server.records.tables import EntryRow, PieceRow
from server.settings import Settings
from tests.bench.big_shop import make
from tests.web.workshop import BASE_URL, LOOPBACK

PIECES, OPEN = 500, 12  # 10,000 readings
LARGE_TABLES = ("entry", "answer", "strike", "closing", "learned", "scatter", "audit", "search")


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Settings:
    folder: Path = tmp_path_factory.mktemp("big")
    assert make(folder, PIECES, OPEN) == 20 * (PIECES + 2)
    return Settings(data_dir=folder)


@pytest.fixture(scope="module")
def big(told: Settings) -> Iterator[Database]:
    opened = open_database(told)
    yield opened
    opened.close()


def test_it_is_a_sound_shop(told: Settings, big: Database) -> None:
    assert big.is_sqlite
    found = {line.what: line for line in check(told, told.clock())}

    assert found["integrity"].words == "ok"
    assert found["references"].words == "ok"
    assert found["piece"].words == str(PIECES + 2)


def test_a_copied_piece_is_as_if_it_had_been_logged(big: Database) -> None:
    """What is worked out from its entries is what is stored as the answer to them."""
    with big.reading() as session:
        log = PieceLog.read(session, 2 + PIECES // 2)
        assert len(log.rows) == 20
        assert [row.at for row in log.rows] == sorted(row.at for row in log.rows)
        for feature in log.features:
            found = log.evaluation(feature, wants_advice=False)
            last = log.rows_of(feature.id or 0)[-1]
            answer = log.answers[last.id or 0]
            assert found.current is not None
            assert found.current.size_mm == pytest.approx(answer.size_mm)
            assert found.current.verdict.value == answer.verdict
            assert log.answer_body(last.id or 0)["reading"]["id"] == last.id
        assert log.mark == change_mark(session, log.piece_id)


def test_the_pages_read_no_large_table_from_end_to_end(told: Settings, big: Database) -> None:
    """SCAN of a large table in a plan would grow with the years; SEARCH by an index does not."""
    statements: list[tuple[str, object]] = []

    def note(
        _connection: object, _cursor: object, statement: str, values: object, *_: object
    ) -> None:
        statements.append((statement, values))

    with big.reading() as session:
        in_work = session.exec(select(PieceRow.id).where(PieceRow.closed_as == "")).all()
        highest = session.exec(select(func.max(EntryRow.id))).one()
    assert len(in_work) == OPEN
    event.listen(big._reader, "before_cursor_execute", note)
    with TestClient(create_app(told, big), base_url=BASE_URL, client=LOOPBACK) as client:
        for path in (
            "/",
            "/?q=pump+shaft",
            "/?q=nowhere+to+be+found",
            "/parts/5",
            "/pieces/100/history",
            f"/pieces/{in_work[0]}/lathe",
            "/api/pieces/100/history",
        ):
            assert client.get(path).status_code == 200
    event.remove(big._reader, "before_cursor_execute", note)
    reopened = open_database(told)
    plans = []
    with reopened.reading() as session:
        connection = session.connection()
        for statement, values in statements:
            if statement.lstrip().startswith("SELECT"):
                rows = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", values)
                plans += [(row[3], statement) for row in rows]
    reopened.close()

    assert highest > 10_000
    assert plans
    for step, statement in plans:
        words = step.split()
        assert not (words[0] == "SCAN" and words[1] in LARGE_TABLES), (step, statement)
