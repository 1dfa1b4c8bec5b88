"""The inspection record: page, JSON, CSV, spreadsheet, and where its digest stands."""

from __future__ import annotations

import csv
import io
import json
import re
from hashlib import sha256
from html import unescape

import pytest
from openpyxl import load_workbook
from sqlmodel import Session, col, select

from server.logbook.digest import canonical
from server.logbook.record_sheets import FEATURE_COLUMNS, READING_COLUMNS
from server.records.database import Database
from server.records.tables import EntryRow
from tests.web.workshop import Job, Json, Workshop, new_key

COLD = {"temperature": {"value": 20.5, "unit": "C"}}


def turned(shop: Workshop) -> Job:
    """Three readings, one of them struck, and the piece finished."""
    job = shop.job("24.90/25.10", "mm")
    job.read("25.300", operator="RT", note="=1+1", **COLD)
    wrong = job.read("25.020", "0.26", confirm=True, operator="RT", **COLD)["reading"]["id"]
    job.strike(wrong, "chip under the anvil")
    job.read("25.005", confirm=True, operator="JK", **COLD)
    job.finish(initials="JK", reason="fits")
    return job


def record(shop: Workshop, job: Job) -> Json:
    return shop.get(f"/api/pieces/{job.piece_id}/record")


def test_the_record_says_what_was_asked_measured_and_decided(shop: Workshop) -> None:
    job = turned(shop)
    found = record(shop, job)

    assert found["finished"]["as"] == "good"
    assert found["finished"]["initials"] == "JK"
    assert found["finished"]["reason"] == "fits"
    assert found["finished"]["rule"].startswith("ISO 14253-1")
    line = found["features"][0]
    assert (line["low"], line["high"]) == (24.9, 25.1)
    history = job.entries()[-1]
    assert line["size"] == history["size"]
    assert line["doubt"] == history["doubt"]
    assert line["verdict"] == "in_limits"
    assert line["temperatures"] == ["20.5 °C"]
    assert line["operators"] == ["JK"]
    assert [each["name"] for each in line["instruments"]] == ["Micrometer"]
    assert [each["value"] for each in found["readings"]] == ["25.300", "25.020", "25.005"]
    assert found["readings"][1]["struck"]["reason"] == "chip under the anvil"
    assert found["digest"]["readings"] == 3


def test_anyone_can_take_the_digest_from_the_json(shop: Workshop) -> None:
    found = record(shop, turned(shop))
    lines = []
    for each in found["readings"]:
        struck = [each["struck"]["at"], each["struck"]["reason"]] if each["struck"] else None
        line = [each["number"], each["value"], each["unit"], each["at"], struck]
        lines.append(json.dumps(line, ensure_ascii=False, separators=(",", ":")) + "\n")
    assert sha256("".join(lines).encode()).hexdigest() == found["digest"]["sha256"]


def test_a_reading_changed_behind_the_program_shows(shop: Workshop, database: Database) -> None:
    job = turned(shop)
    before = record(shop, job)["digest"]["sha256"]
    alter(database, {"note": "another note", "temperature": "25"})
    assert record(shop, job)["digest"]["sha256"] == before
    alter(database, {"value": "25.306"})
    assert record(shop, job)["digest"]["sha256"] != before


def alter(database: Database, values: dict[str, str]) -> None:
    with database.writing() as session:
        row = first_reading(session)
        for name, value in values.items():
            setattr(row, name, value)
        session.add(row)


def first_reading(session: Session) -> EntryRow:
    return session.exec(
        select(EntryRow).where(EntryRow.type == "reading").order_by(col(EntryRow.id))
    ).first() or pytest.fail("no reading")


def test_the_digest_is_the_same_for_piece_and_lot(shop: Workshop, database: Database) -> None:
    job = turned(shop)
    second = shop.piece(job.part_id)
    lot = shop.get(f"/api/parts/{job.part_id}/record")
    one, two = (piece["digest"]["sha256"] for piece in lot["pieces"])
    assert one == record(shop, job)["digest"]["sha256"]
    assert lot["digest"]["sha256"] == sha256(f"1 {one}\n2 {two}\n".encode()).hexdigest()
    with database.reading() as session:
        rows = session.exec(select(EntryRow).where(EntryRow.piece_id == second)).all()
    assert canonical(rows, {}) == ""


def test_an_overdue_instrument_is_named(shop: Workshop) -> None:
    job = shop.job("24.90/25.10", "mm")
    body = {
        "name": "Old micrometer",
        "kind": "micrometer",
        "unit": "mm",
        "resolution": "0.001",
        "max_error": "0.002",
        "last_checked": "2025-01-10",
        "due": "2026-01-10",
    }
    old = shop.post("/api/instruments", body, 201)["id"]
    job.read("25.005", instrument_id=old, **COLD)
    used = record(shop, job)["features"][0]["instruments"]
    assert used == [
        {
            "name": "Old micrometer",
            "kind": "micrometer",
            "last_checked": "2025-01-10",
            "due": "2026-01-10",
            "zero_at": "",
            "is_overdue": True,
        }
    ]
    page = shop.client.get(f"/pieces/{job.piece_id}/record").text
    assert "checked 2025-01-10, due 2026-01-10, overdue when used, no zero check" in page


def test_the_wires_and_their_rule_are_on_the_record(shop: Workshop) -> None:
    job = shop.thread()
    job.read("0.6331", confirm=True, **COLD)
    line = record(shop, job)["features"][0]
    assert line["wires"] == "over 0.0320 in wires, handbook rule"


def test_the_page_shows_the_record(shop: Workshop) -> None:
    job = turned(shop)
    answer = shop.client.get(f"/pieces/{job.piece_id}/record")
    text = unescape(answer.text)
    assert answer.status_code == 200
    digest = record(shop, job)["digest"]["sha256"]
    assert digest in re.sub(r"(?<=[0-9a-f]) (?=[0-9a-f])", "", text)
    for words in ("24.900", "25.100", "<b>25.005</b>", "In limits", "20.5 °C", "JK", "fits"):
        assert words in text
    assert "3 readings, 1 of them struck" in text
    assert "Finished: good" in text
    for kind in ("csv", "xlsx"):
        assert f'href="/pieces/{job.piece_id}/record.{kind}"' in text
    assert (
        f'href="/pieces/{job.piece_id}/record"'
        in shop.client.get(f"/pieces/{job.piece_id}/history").text
    )


def test_a_changed_rule_does_not_change_a_finished_record(shop: Workshop) -> None:
    job = turned(shop)
    before = record(shop, job)["features"][0]
    form = {"unit": "mm", "rule": "plain", "past_limit_percent": "0.5"}
    shop.client.post("/shop", data=form)
    after = record(shop, job)["features"][0]
    assert after["rule"] == before["rule"]
    assert after["verdict"] == before["verdict"]


def test_csv_has_a_line_a_feature(shop: Workshop) -> None:
    job = turned(shop)
    answer = shop.client.get(f"/pieces/{job.piece_id}/record.csv")
    assert answer.headers["content-type"].startswith("text/csv")
    head, line = csv.reader(io.StringIO(answer.text))
    cells = dict(zip(head, line, strict=True))
    assert tuple(head) == FEATURE_COLUMNS
    assert (cells["low"], cells["high"]) == ("24.9", "25.1")
    assert float(cells["size"]) == pytest.approx(record(shop, job)["features"][0]["size"], abs=1e-6)
    assert cells["digest"] == record(shop, job)["digest"]["sha256"]


def test_the_spreadsheet_reads_back(shop: Workshop) -> None:
    job = turned(shop)
    found = record(shop, job)
    answer = shop.client.get(f"/pieces/{job.piece_id}/record.xlsx")
    assert "spreadsheetml" in answer.headers["content-type"]

    book = load_workbook(io.BytesIO(answer.content))

    assert book.sheetnames == ["Features", "Readings", "Digest"]
    head, line = book["Features"].values
    assert head == FEATURE_COLUMNS
    cells = dict(zip(head, line, strict=True))
    assert cells["low"] == 24.9
    assert cells["size"] == pytest.approx(found["features"][0]["size"], abs=1e-6)
    assert cells["digest"] == found["digest"]["sha256"]
    head, *lines = book["Readings"].values
    assert head == READING_COLUMNS
    values = [dict(zip(head, each, strict=True)) for each in lines]
    assert [each["value"] for each in values] == ["25.300", "25.020", "25.005"]
    assert values[0]["note"] == "=1+1"
    notes = [cell for cell in book["Readings"]["J"] if cell.value == "=1+1"]
    assert [cell.data_type for cell in notes] == ["s"], "text stays text, no formula"
    assert dict(list(book["Digest"].values)[1:])["digest"] == found["digest"]["sha256"]


def test_the_spreadsheet_of_a_lot_has_every_piece(shop: Workshop) -> None:
    job = turned(shop)
    for size in ("25.010", "24.995"):
        piece = shop.piece(job.part_id)
        body = job.body(size, confirm=True, **COLD) | {"entry_key": new_key()}
        shop.post(f"/api/pieces/{piece}/readings", body, 201)
    book = load_workbook(io.BytesIO(shop.client.get(f"/parts/{job.part_id}/record.xlsx").content))
    assert [row[3] for row in book["Features"].values][1:] == [1, 2, 3]
    text = shop.client.get(f"/parts/{job.part_id}/record.csv").text
    assert len(list(csv.reader(io.StringIO(text)))) == 4
    page = shop.client.get(f"/parts/{job.part_id}/record").text
    assert page.count('class="inspection"') == 3
    assert "Digest of the lot, 3 pieces" in page


def test_what_is_not_there_has_no_record(shop: Workshop) -> None:
    for path in ("/pieces/99/record", "/parts/99/record", "/pieces/99/record.xlsx"):
        assert shop.client.get(path).status_code == 404
    shop.get("/api/pieces/99/record", 404)
    part_id = shop.part("mm")
    assert "nothing to record" in shop.client.get(f"/parts/{part_id}/record").text
