"""GET /api/pieces/{id}/history and its CSV: everything in order, exactly as typed."""

from __future__ import annotations

import csv
import io

import pytest

from server.logbook.history import history_csv
from server.records.database import Database
from tests.web.workshop import Job, Workshop, code_of

READY = {"temperature": {"value": 20, "unit": "C"}}


def csv_rows(database: Database, piece_id: int) -> list[dict[str, str]]:
    with database.reading() as session:
        return list(csv.DictReader(io.StringIO(history_csv(session, piece_id))))


def worked(shop: Workshop) -> Job:
    """A thread with a reading, a pass, an event, a struck reading and one after it."""
    job = shop.thread()
    job.read("0.6480", note="first, filed the burr")
    job.cut("0.002")
    job.event("tool_changed")
    wrong = job.read("0.6400", "0.0025")
    job.strike(wrong["reading"]["id"], "chip")
    job.read(" 0.6410 ", temperature={"value": 22})
    return job


def test_every_entry_is_there_in_order_with_the_keys_of_the_contract(shop: Workshop) -> None:
    entries = worked(shop).entries()

    assert [entry["type"] for entry in entries] == [
        "reading",
        "pass",
        "event",
        "reading",
        "reading",
    ]
    numbers = [entry["id"] for entry in entries]
    assert numbers == sorted(numbers)
    for entry in entries:
        assert {"type", "id", "value", "unit", "note", "dial_step", "struck"} <= set(entry)


def test_values_are_exactly_as_typed(shop: Workshop) -> None:
    entries = worked(shop).entries()

    assert entries[0]["value"] == "0.6480"
    assert entries[4]["value"] == " 0.6410 "
    assert entries[3]["dial_step"] == "0.0025"
    assert entries[0]["note"] == "first, filed the burr"
    assert entries[3]["struck"]["reason"] == "chip"


def test_predicted_against_actual_is_told(shop: Workshop) -> None:
    job = shop.thread()
    answer = job.read("0.6480")
    job.read("0.6400", f"{answer['next_cut']['dial_step']:.4f}", confirm=True)
    first, second = job.entries()

    assert first["predicted_next"] == answer["next_cut"]["landing"]
    assert first["size"] == answer["size"]["value"]
    assert second["removed"] == pytest.approx(0.008, abs=1e-8)


def test_the_features_and_their_verdicts_are_told(shop: Workshop) -> None:
    job = shop.job("25 ±0.02", "mm")
    job.read("25.000", **READY)
    history = job.history()

    assert history["piece"]["id"] == job.piece_id
    feature = history["features"][0]
    assert (feature["id"], feature["label"]) == (job.feature_id, "Feature")
    assert feature["verdict"] == "in_limits"


def test_an_untouched_piece_has_an_empty_history(shop: Workshop) -> None:
    feature = shop.thread().history()["features"][0]

    assert feature["entries"] == []
    assert feature["verdict"] is None


def test_an_unknown_piece_is_not_found(shop: Workshop) -> None:
    assert code_of(shop.get("/api/pieces/99/history", 404)) == "not_found"
    assert code_of(shop.get("/api/pieces/one/history", 422)) == "invalid"


def test_the_csv_has_a_line_an_entry_exactly_as_typed(shop: Workshop, database: Database) -> None:
    job = worked(shop)
    rows = csv_rows(database, job.piece_id)

    assert [row["type"] for row in rows] == ["reading", "pass", "event", "reading", "reading"]
    assert rows[0]["value"] == "0.6480"
    assert rows[0]["note"] == "first, filed the burr"
    assert rows[1]["dial_step"] == "0.002"
    assert rows[2]["event"] == "tool_changed"
    assert rows[3]["struck_reason"] == "chip"
    assert rows[4]["value"] == " 0.6410 "


@pytest.mark.parametrize("note", ['=HYPERLINK("x")', "+1+1", "-2+3", "@SUM(A1)"])
def test_a_note_never_runs_as_a_formula_in_a_spreadsheet(
    shop: Workshop, database: Database, note: str
) -> None:
    job = shop.thread()
    job.read("0.6480", note=note)

    assert csv_rows(database, job.piece_id)[0]["note"] == f"'{note}"
    assert job.entries()[0]["note"] == note


def test_a_negative_dial_step_stays_a_number_in_the_csv(shop: Workshop, database: Database) -> None:
    job = shop.thread()
    job.read("0.6480")
    job.cut("-0.010")

    assert csv_rows(database, job.piece_id)[1]["dial_step"] == "-0.010"


def test_the_csv_is_served(shop: Workshop) -> None:
    job = worked(shop)
    response = shop.client.get(f"/pieces/{job.piece_id}/history.csv")

    assert response.status_code == 200
    assert response.headers["content-type"].startswith("text/csv")
    assert "0.6480" in response.text
    assert shop.client.get("/pieces/99/history.csv").status_code == 404
