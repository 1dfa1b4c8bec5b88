"""Finding finished pieces: by every word, with the index and without it, and by reading no more."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text
from sqlmodel import Session

from server.app import create_app
from server.demo import fill_if_empty
from server.logbook.search import by_index, find_pieces, folded, has_index
from server.pages.language import ENGLISH, LANGUAGES, teller
from server.pages.search_words import ways_of
from server.pages.words import MONTHS, STATE_WORDS, day
from server.records.database import Database, open_database
from server.records.tables import PartRow, PieceRow, SearchRow
from server.settings import Settings
from server.wording import say
from tests.conftest import Clock
from tests.web.workshop import BASE_URL, LOOPBACK

PIECES = 8
WORD = st.text("abAB12/-.,%_\\\"'*^()äßЖ:", min_size=1, max_size=9)
LINE = st.lists(WORD, min_size=1, max_size=5).map(" ".join)
EACH_EXAMPLE_WRITES_ANEW = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
WITHOUT_INDEX = ("search_added", "search_gone", "search_changed")


@pytest.fixture
def session(database: Database) -> Iterator[Session]:
    """Eight finished pieces of one part, without a line yet."""
    with database.writing() as writing:
        writing.add(PartRow(id=1, name="x", material="brass", unit="mm", created_at=""))
        writing.flush()
        for number in range(1, PIECES + 1):
            writing.add(
                PieceRow(id=number, part_id=1, number=number, opened_at="", closed_as="good")
            )
        writing.flush()
        yield writing


def write(session: Session, lines: list[str]) -> None:
    session.connection().execute(text("DELETE FROM search"))
    for number, line in enumerate(lines, start=1):
        session.connection().execute(
            text("INSERT INTO search (piece_id, text) VALUES (:number, :line)"),
            {"number": number, "line": folded(line)},
        )


def found(session: Session, wanted: str, most: int = PIECES) -> list[int]:
    return [piece.id or 0 for piece, _ in find_pieces(session, wanted, most)]


def drop_index(session: Session) -> None:
    for name in WITHOUT_INDEX:
        session.connection().execute(text(f"DROP TRIGGER {name}"))
    session.connection().execute(text("DROP TABLE search_words"))


@pytest.mark.parametrize("is_indexed", [True, False])
@given(lines=st.lists(LINE, min_size=1, max_size=PIECES), data=st.data())
@settings(max_examples=60, deadline=None, suppress_health_check=EACH_EXAMPLE_WRITES_ANEW)
def test_a_piece_is_found_if_its_line_holds_every_word(
    session: Session, is_indexed: bool, lines: list[str], data: st.DataObject
) -> None:
    if not is_indexed and has_index(session):
        drop_index(session)
    write(session, lines)
    line = folded(data.draw(st.sampled_from(lines)))
    start = data.draw(st.integers(0, len(line) - 1))
    part = line[start : start + data.draw(st.integers(1, 12))]
    wanted = f"{part} {data.draw(st.one_of(st.just(''), WORD))}"
    most = data.draw(st.integers(1, PIECES))

    numbers = found(session, wanted, most)

    holding = [
        number
        for number, each in enumerate(lines, start=1)
        if all(word in folded(each) for word in folded(wanted).split())
    ]
    assert numbers == holding[::-1][:most]


@pytest.mark.parametrize("wanted", ["pump\0", "\0", "a\0b", '"', '""""', "pump OR zzz", "pump*"])
def test_whatever_is_typed_is_only_looked_for(session: Session, wanted: str) -> None:
    write(session, ["pump shaft"])
    assert found(session, wanted) == ([1] if wanted in ("pump\0", "\0") else [])


def test_the_index_follows_its_lines(session: Session) -> None:
    write(session, ["pump shaft", "crane hub"])
    assert found(session, "shaft") == [1]
    session.merge(SearchRow(piece_id=1, text="pump axle"))
    session.flush()
    assert found(session, "shaft") == []
    assert found(session, "axle") == [1]
    session.delete(session.get_one(SearchRow, 2))
    session.flush()
    assert found(session, "crane") == []


@pytest.mark.parametrize("is_indexed", [True, False])
def test_a_word_may_be_called_otherwise_in_the_lines(session: Session, is_indexed: bool) -> None:
    if not is_indexed and has_index(session):
        drop_index(session)
    write(
        session,
        ["gutter pin brass 2 march", "pin brass good 12 march", "pin copper c110 good 2 may"],
    )

    def found_by(wanted: str) -> list[int]:
        return [piece.id or 0 for piece, _ in find_pieces(session, wanted, 9, ways_of("de"))]

    assert found_by("Gut März") == [2, 1], "as it was typed too"
    assert found_by("Gut 2. März") == [2, 1]
    assert found_by("12. März") == [2]
    assert found_by("mär kupfer") == []
    assert found_by("mai KUPFER") == [3]
    assert found_by("gu") == [1], "too short for the beginning of a word"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    settings = Settings(data_dir=tmp_path_factory.mktemp("demo"), clock=Clock())
    database = open_database(settings)
    fill_if_empty(database, settings)
    with TestClient(create_app(settings, database), base_url=BASE_URL, client=LOOPBACK) as opened:
        yield opened


def pieces_found(demo: TestClient, wanted: str, language: str) -> int:
    headers = {"accept-language": language}
    page = demo.get("/", params={"q": wanted}, headers=headers).text
    return len(re.findall(r'<li><a href="/pieces/\d+/history"', page))


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_device_searches_in_the_words_of_its_screen(demo: TestClient, language: str) -> None:
    tell = teller(language)
    today = Clock()()
    for said, count in (
        (MONTHS[today.month - 1], 9),
        (day(today.isoformat()), 9),
        (STATE_WORDS["scrap"], 1),
        (STATE_WORDS["good"], 8),
        (say("Piece {number}", number=1), 9),
        (say("Brass"), 8),
    ):
        assert pieces_found(demo, said, ENGLISH) == count, said
        assert pieces_found(demo, tell(said), language) == count, said


def plan(session: Session, statement: str, values: object = ()) -> list[str]:
    rows = session.connection().exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", values)
    return [row[3] for row in rows]


def test_a_search_reads_the_index_and_not_the_lines(session: Session) -> None:
    if not has_index(session):
        pytest.skip("a server has an index of its own; see tests/operate/test_postgresql.py")
    asked = by_index([("shaft", "welle"), ("pump",)]).compile(session.get_bind())
    values = tuple(asked.params[name] for name in asked.positiontup or ())

    steps = plan(session, str(asked), values)

    assert len(steps) == 1, "no second table, no sorting afterwards"
    assert steps[0].startswith("SCAN search_words VIRTUAL TABLE INDEX")
    assert "M" in steps[0].rpartition(":")[2], "by what is looked for"
