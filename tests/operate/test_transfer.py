"""A whole shop written to one file and read back, and moved from one database to another."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.operate.jsonstream import BadJson, JsonReader
from server.operate.move import move_shop
from server.operate.transfer import TransferRefused, export_shop, import_shop
from server.records.database import open_database
from server.settings import Settings
from tests.operate.conftest import Run


@pytest.fixture
def empty(settings: Settings, tmp_path: Path) -> Settings:
    return replace(settings, data_dir=tmp_path / "empty")


def test_export_import_export_gives_the_same_bytes(
    filled: Settings, empty: Settings, elsewhere: Path
) -> None:
    first, second = elsewhere / "first.json", elsewhere / "second.json"
    rows = export_shop(filled, first)

    assert import_shop(empty, first) == rows
    assert export_shop(empty, second) == rows
    assert second.read_bytes() == first.read_bytes()


def test_an_export_is_the_documented_json(filled: Settings, elsewhere: Path) -> None:
    export_shop(filled, elsewhere / "shop.json")
    found = json.loads((elsewhere / "shop.json").read_text(encoding="utf-8"))

    assert list(found) == ["midlimit", "format", "schema", "tables"]
    assert (found["midlimit"], found["format"]) == ("shop", 1)
    assert found["tables"]["entry"][0]["value"]
    assert {"device", "pairing"} & set(found["tables"]) == set()


def test_any_layout_of_the_same_json_is_read(
    filled: Settings, empty: Settings, elsewhere: Path
) -> None:
    first, spread, second = (elsewhere / name for name in ("a.json", "b.json", "c.json"))
    export_shop(filled, first)
    spread.write_text(json.dumps(json.loads(first.read_text()), indent=3), encoding="utf-8")
    import_shop(empty, spread)
    export_shop(empty, second)

    assert second.read_bytes() == first.read_bytes()


def test_an_imported_shop_can_be_logged_on(
    filled: Settings, empty: Settings, elsewhere: Path
) -> None:
    from fastapi.testclient import TestClient

    from server.app import create_app
    from tests.web.workshop import BASE_URL, LOOPBACK

    export_shop(filled, elsewhere / "shop.json")
    import_shop(empty, elsewhere / "shop.json")
    app = create_app(empty, open_database(empty))
    with TestClient(app, base_url=BASE_URL, client=LOOPBACK) as client:
        part = client.post("/api/parts/1/pieces", json={})
        assert part.status_code == 201, part.text


def test_a_database_with_records_takes_no_import(filled: Settings, elsewhere: Path) -> None:
    export_shop(filled, elsewhere / "shop.json")

    with pytest.raises(TransferRefused, match="records in this database already"):
        import_shop(filled, elsewhere / "shop.json")


def changed(file: Path, **more: Any) -> Path:
    found = json.loads(file.read_text(encoding="utf-8")) | more
    file.write_text(json.dumps(found), encoding="utf-8")
    return file


def test_a_newer_export_is_refused_and_nothing_is_kept(
    filled: Settings, empty: Settings, elsewhere: Path
) -> None:
    file = elsewhere / "shop.json"
    export_shop(filled, file)
    with pytest.raises(TransferRefused, match="newer Midlimit"):
        import_shop(empty, changed(file, schema="9999"))
    with pytest.raises(TransferRefused, match="format 2"):
        import_shop(empty, changed(file, schema="0001", format=2))
    export_shop(empty, elsewhere / "after.json")

    tables = json.loads((elsewhere / "after.json").read_text())["tables"]
    assert all(rows == [] for rows in tables.values())


def test_a_row_without_what_it_refers_to_is_refused(
    filled: Settings, empty: Settings, elsewhere: Path
) -> None:
    file = elsewhere / "shop.json"
    export_shop(filled, file)
    tables = json.loads(file.read_text(encoding="utf-8"))["tables"]
    tables["piece"] = []

    with pytest.raises(TransferRefused, match="don't fit together"):
        import_shop(empty, changed(file, tables=tables))


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", "null", '{"midlimit": "shop"}', '{"tables": {}}', '{"midlimit": "shop", "f'],
)
def test_what_is_no_export_is_refused(
    empty: Settings, elsewhere: Path, run: Run, text: str
) -> None:
    file = elsewhere / "wrong.json"
    file.write_text(text, encoding="utf-8")
    code, _, said = run("import", "--data-dir", empty.data_dir, file)

    assert code == 1
    assert said.startswith("midlimit: ")
    assert said.count("\n") == 1


def test_a_file_that_is_there_is_not_overwritten(filled: Settings, elsewhere: Path) -> None:
    file = elsewhere / "mine.json"
    file.write_text("mine")

    with pytest.raises(TransferRefused, match="exists already"):
        export_shop(filled, file)
    assert file.read_text() == "mine"


def test_a_moved_shop_is_the_same(filled: Settings, empty: Settings, elsewhere: Path) -> None:
    empty.data_dir.mkdir()
    told = list(move_shop(filled.url, empty.url))
    export_shop(filled, elsewhere / "a.json")
    export_shop(empty, elsewhere / "b.json")

    assert any("entry" in line and "same content" in line for line in told)
    assert (elsewhere / "a.json").read_bytes() == (elsewhere / "b.json").read_bytes()


def test_a_move_into_records_is_refused(filled: Settings) -> None:
    with pytest.raises(TransferRefused, match="same database"):
        list(move_shop(filled.url, filled.url))


class Dribble(io.StringIO):
    """Gives a few characters at a time, whatever was asked for."""

    def read(self, size: int | None = -1) -> str:
        return super().read(3)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)


@given(
    st.dictionaries(st.text(), st.lists(JSON, max_size=4), max_size=4), st.sampled_from([None, 2])
)
def test_the_reader_reads_what_json_reads(value: dict[str, list[Any]], indent: int | None) -> None:
    for source in (io.StringIO, Dribble):
        reader = JsonReader(source(json.dumps(value, indent=indent)))
        assert {key: list(reader.items()) for key in reader.keys()} == value


@given(st.text(max_size=30))
def test_the_reader_never_fails_otherwise(text: str) -> None:
    reader = JsonReader(Dribble(text))
    try:
        for _ in reader.keys():
            list(reader.items())
    except BadJson:
        return
