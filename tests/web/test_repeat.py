"""Work that comes back: copying a part, finding finished pieces, how the same size went before."""

from __future__ import annotations

from html import unescape
from importlib import util

import pytest
from sqlmodel import col, select

from server.logbook.repeat import Before
from server.logbook.search import find_pieces
from server.records.database import Database
from server.records.tables import AuditRow, FeatureRow, SearchRow
from server.settings import resource_dir
from tests.web.workshop import Job, Workshop, new_key

COLD = {"temperature": {"value": 20, "unit": "C"}}


def finished(
    shop: Workshop, job: Job, size: str = "25.000", closed_as: str = "good", operator: str = "RT"
) -> int:
    piece_id = shop.piece(job.part_id)
    body = job.body(size, confirm=True, operator=operator, **COLD) | {"entry_key": new_key()}
    shop.post(f"/api/pieces/{piece_id}/readings", body, 201)
    finish = {"as": closed_as, "initials": operator, "reason": "said"}
    shop.post(f"/api/pieces/{piece_id}/finish", finish, 200)
    return piece_id


def found(database: Database, text: str) -> list[int]:
    with database.reading() as session:
        return [piece.id or 0 for piece, _ in find_pieces(session, text, 50)]


def feature_rows(database: Database, part_id: int) -> list[dict[str, object]]:
    with database.reading() as session:
        rows = session.exec(
            select(FeatureRow).where(FeatureRow.part_id == part_id).order_by(col(FeatureRow.id))
        )
        return [row.model_dump(exclude={"id", "part_id", "created_at"}) for row in rows]


def test_a_copy_has_the_features_and_the_set_up(shop: Workshop, database: Database) -> None:
    job = shop.thread(crest_diameter="0.6195", tool={"flat": "0.007"}, rule="exact")
    answer = shop.post(f"/api/parts/{job.part_id}/copy", {"name": "Second shaft"}, 201)

    assert answer["id"] != job.part_id
    assert feature_rows(database, answer["id"]) == feature_rows(database, job.part_id)
    assert len(feature_rows(database, answer["id"])) == 1
    with database.reading() as session:
        actions = session.exec(select(AuditRow.action)).all()
    assert "part copied" in actions


def test_what_was_learned_carries_to_the_copy(shop: Workshop) -> None:
    job = shop.job("24.90/25.10", "mm")
    readings = (("25.400", None), ("25.210", "0.24"), ("25.040", "0.20"))
    for value, step in readings:
        answer = job.read(value, step, confirm=True, **COLD)
    shop.post(f"/api/pieces/{job.piece_id}/finish", {"as": "good"}, 200)
    fresh = shop.job("24.90/25.10", "mm").read("25.400", **COLD)["next_cut"]

    copied = shop.post(f"/api/parts/{job.part_id}/copy", {}, 201)["id"]
    page = unescape(shop.client.get(f"/parts/{copied}").text)
    piece_id = shop.piece(copied)
    feature_id = next(
        entry["id"] for entry in shop.get(f"/api/pieces/{piece_id}/history")["features"]
    )
    body = job.body("25.400", **COLD) | {"feature_id": feature_id, "entry_key": new_key()}
    again = shop.post(f"/api/pieces/{piece_id}/readings", body, 201)["next_cut"]

    assert answer["verdict"] == "in_limits"
    assert again["landing"] != fresh["landing"], "the copy starts from what this lathe taught"
    assert "Cut before on 1 piece on The long bed: 1 good; usually 2 cuts each." in page


def test_the_form_copies_and_leads_to_the_copy(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    answer = shop.client.post(
        f"/parts/{job.part_id}/copy",
        data={"form": "copy", "name": "Shaft, long", "number": "A-2"},
        follow_redirects=False,
    )
    assert answer.status_code == 303
    page = shop.client.get(answer.headers["location"]).text
    assert "Shaft, long" in page
    assert "A-2" in page
    refused = shop.client.post(f"/parts/{job.part_id}/copy", data={"name": "x" * 300})
    assert refused.status_code == 422
    assert "300 characters" in refused.text
    shop.post("/api/parts/999/copy", {}, 404)


def test_pieces_are_found_by_every_word(shop: Workshop, database: Database) -> None:
    shaft = shop.job("24.90/25.10", "mm", material="brass")
    other = shop.job("24.90/25.10", "mm")
    one, two = finished(shop, shaft, operator="JK"), finished(shop, other, operator="RT")

    assert found(database, "shaft") == [two, one]
    assert found(database, "BRASS") == [one]
    assert found(database, "24.90/25.10 jk") == [one]
    assert found(database, "carbon rt") == [two]
    assert found(database, "2026-03-02") == [two, one]
    assert found(database, "2 march 2026 brass") == [one]
    assert found(database, "good") == [two, one]
    assert found(database, "copper") == []
    page = shop.client.get("/?q=brass+jk").text
    assert f"/pieces/{one}/history" in page
    assert f"/pieces/{two}/history" not in page


@pytest.mark.parametrize("text", ["%", "_", "/", "\\", "100%", "a_b", "''", '"; DROP TABLE'])
def test_signs_are_looked_for_as_they_are(shop: Workshop, database: Database, text: str) -> None:
    one = finished(shop, shop.job("24.90/25.10", "mm"))
    assert found(database, text) == ([one] if text == "/" else [])


def test_a_thread_is_found_by_its_designation(shop: Workshop, database: Database) -> None:
    job = shop.thread()
    body = job.body("0.6331", confirm=True, temperature={"value": 68, "unit": "F"})
    shop.post(f"/api/pieces/{job.piece_id}/readings", body, 201)
    shop.post(f"/api/pieces/{job.piece_id}/finish", {"as": "concession", "reason": "fits"}, 200)
    assert found(database, "5/8-18 unf") == [job.piece_id]


def test_an_open_piece_is_not_among_the_finished(shop: Workshop, database: Database) -> None:
    shop.job("25 h6", "mm").read("25.100")
    assert found(database, "shaft") == []


def test_how_the_same_thread_went_is_said_on_the_card_and_the_part(shop: Workshop) -> None:
    job = shop.thread()
    body = job.body("0.6390", confirm=True, temperature={"value": 68, "unit": "F"})
    shop.post(f"/api/pieces/{job.piece_id}/readings", body, 201)
    job.cut("0.0030")
    job.read("0.6250", "0.0010", confirm=True)
    shop.post(f"/api/pieces/{job.piece_id}/finish", {"as": "scrap", "reason": "too deep"}, 200)

    words = "Cut before on 1 piece on The long bed: 1 scrapped; usually 2 cuts each."
    link = f'href="/pieces/{job.piece_id}/history"'
    card = unescape(shop.client.get("/targets?designation=5/8-18+unf-2a&unit=in").text)
    assert words in card
    assert link in card
    assert words not in unescape(shop.client.get("/targets?designation=3/4-16+UNF-2A").text)
    again = shop.thread()
    page = unescape(shop.client.get(f"/parts/{again.part_id}").text)
    assert words in page
    assert link in page


def test_a_bare_size_in_the_other_unit_is_another_size(shop: Workshop) -> None:
    finished(shop, shop.job("24.90/25.10", "mm"))
    inch = shop.client.get("/targets?designation=24.90/25.10&unit=in").text
    metric = shop.client.get("/targets?designation=24.90/25.10&unit=mm").text
    assert "Cut before" not in inch
    assert "Cut before on 1 piece" in metric


def test_an_older_database_gets_its_lines(shop: Workshop, database: Database) -> None:
    """The migration writes the very line that finishing writes."""
    one = finished(shop, shop.job("24.90/25.10", "mm", material="brass"), operator="JK")
    path = resource_dir("migrations") / "versions" / "0005_search.py"
    spec = util.spec_from_file_location("search_migration", path)
    assert spec is not None
    assert spec.loader is not None
    module = util.module_from_spec(spec)
    spec.loader.exec_module(module)
    with database.reading() as session:
        lines = module.finished_lines(session.connection())
        kept = session.get_one(SearchRow, one).text
    assert lines == [{"piece_id": one, "text": kept}]


@pytest.mark.parametrize(
    ("passes", "words"), [(0.5, "0.5 cuts each"), (1.0, "1 cut each"), (1.5, "1.5 cuts each")]
)
def test_only_one_cut_is_singular(passes: float, words: str) -> None:
    assert f"usually {words}." in Before(1, 1, 0, 0, passes, 1, "", "Shaft", ()).words
