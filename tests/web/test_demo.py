"""The invented workshop: in mid-job on an empty database, never on one that has data."""

from __future__ import annotations

from sqlmodel import func, select

from server.demo import fill_if_empty
from server.records.database import Database
from server.records.tables import EntryRow, PartRow, PieceRow
from server.settings import Settings
from tests.web.workshop import Workshop


def counted(database: Database) -> tuple[int, int, int]:
    with database.reading() as session:
        parts, pieces, entries = (
            session.exec(select(func.count()).select_from(table)).one()
            for table in (PartRow, PieceRow, EntryRow)
        )
    return parts, pieces, entries


def test_the_demo_shows_a_next_cut(shop: Workshop, database: Database, settings: Settings) -> None:
    fill_if_empty(database, settings)
    parts, pieces, entries = counted(database)
    assert min(parts, pieces) >= 1
    assert entries >= 3

    with database.reading() as session:
        numbers = session.exec(select(PieceRow.id).where(PieceRow.closed_as == "")).all()
    predicted = [
        entry["predicted_next"]
        for number in numbers
        for feature in shop.get(f"/api/pieces/{number}/history")["features"]
        for entry in feature["entries"]
        if entry["type"] == "reading"
    ]
    assert any(predicted)
    assert shop.client.get("/").status_code == 200


def test_the_demo_is_in_order_up_to_now(database: Database, settings: Settings) -> None:
    fill_if_empty(database, settings)

    with database.reading() as session:
        times = session.exec(select(EntryRow.at).order_by(EntryRow.id)).all()
    assert list(times) == sorted(times)
    assert times[-1] <= settings.clock().strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def test_the_demo_never_touches_a_database_with_data(
    shop: Workshop, database: Database, settings: Settings
) -> None:
    shop.part()
    before = counted(database)

    assert "left out" in fill_if_empty(database, settings)
    assert counted(database) == before


def test_the_demo_is_filled_once(database: Database, settings: Settings) -> None:
    fill_if_empty(database, settings)
    before = counted(database)
    fill_if_empty(database, settings)

    assert counted(database) == before


def test_the_demo_has_a_lot_that_drifts_with_a_scrapped_and_a_reworked_piece(
    shop: Workshop, database: Database, settings: Settings
) -> None:
    fill_if_empty(database, settings)

    lot = shop.get("/api/parts/2/lot")

    assert [piece["state"] for piece in lot["pieces"]].count("scrap") == 1
    assert lot["features"][0]["drift"]["is_sure"]
    page = shop.client.get("/pieces/6/history").text
    assert "This cut went past the limit by 0.0016 in." in page
    assert "Reworked" in shop.client.get("/pieces/10/history").text
    assert "Misread the dial" in shop.client.get("/shop").text


def test_the_demo_shows_what_was_expected_beside_what_came(
    shop: Workshop, database: Database, settings: Settings
) -> None:
    fill_if_empty(database, settings)

    features = shop.get("/api/pieces/1/history")["features"]
    expected = [
        entry["predicted"]["expected"]
        for feature in features
        for entry in feature["entries"]
        if entry.get("predicted")
    ]
    assert len(expected) >= 4
    page = shop.client.get("/pieces/1/history").text
    for size in expected:
        assert f'<td class="figure" data-label="Expected">{size:.4f}</td>' in page
    assert "<small>spring pass</small>" in page
    assert "\u2212" in page, "a landing below the expected one is shown with a minus sign"
